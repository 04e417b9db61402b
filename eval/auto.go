package eval

import (
	"context"
	"fmt"
	"slices"

	"strikerose/label"
	"strikerose/models"
)

// AutoOptions steers TrainAuto.
type AutoOptions struct {
	Seed      uint64
	MaxWaitMs float64 // longest wait after the onset; 0 is DefaultMaxWaitMs
	Workers   int     // fits at once; 0 is the number of processors
	Progress  Progress
}

const (
	// DefaultMaxWaitMs is how long after the onset an answer may take. To an
	// accelerometer alone, a bag that rocks after a blow tells more than the blow:
	// what can wait for half a rocking errs far less.
	DefaultMaxWaitMs = 250

	autoFolds     = 5 // of whole sessions
	autoStretches = 4 // of a single session
)

// TrainAuto picks among families and returns the chosen one fitted on all
// labelled strikes, with a sentence that says why it was chosen.
//
// Families that need a gyroscope that a rig does not have are out. One that waits
// longer than is allowed is cut to what it may read, and out where it cannot
// answer by that. The rest are cross-validated on at most five folds of whole
// sessions, against the labels that training uses, and so is the pair of what errs
// least in bearing and what errs least in height; the least Criterion wins, or,
// where most labels come from a plan, the fewest wrong faces and bands. Among
// those that the best is not ahead of by a standard error, what can be exported to
// a board goes first, then what answers sooner, then what costs less.
// Where a single session is labelled it is cut into four stretches of time
// instead, and the sentence says so, since that flatters what is fitted.
// Without labels the last rule in the list that gives a height in time, else the
// last in time, is taken: rules are listed from the plain to the knowing.
func TrainAuto(ctx context.Context, d *Data, families []models.Family, o AutoOptions) (models.Detector, string, error) {
	if o.MaxWaitMs == 0 {
		o.MaxWaitMs = DefaultMaxWaitMs
	}
	labelled := trainable(d.Cases)
	gyro := gyroEverywhere(d.Cases)
	able := ableFamilies(families, gyro, o.MaxWaitMs)
	if len(labelled) == 0 {
		return knowingRule(ctx, d, able, gyro, o)
	}
	folds, how := autoSplits(labelled)
	byAim := mostlyAims(labelled)
	values, able, err := crossValidate(ctx, labelled, folds, able, byAim, o)
	if err != nil {
		return nil, "", err
	}
	order := ranked(values, byAim)
	if len(order) == 0 {
		return nil, "", noneInTime(len(families), values, o.MaxWaitMs)
	}
	best := able[order[0]]
	everything := d.TrainingExamples()
	detector, err := best.Fit(ctx, everything, models.Options{Seed: o.Seed})
	if err != nil {
		return nil, "", fmt.Errorf("train: %s on all %d labelled strikes: %w", best.Name, len(everything), err)
	}
	return detector, reason(values, order, byAim, how), nil
}

// noneInTime is the error where no family is left, with the first reason.
func noneInTime(tried int, values []picked, maxWaitMs float64) error {
	why := ""
	if len(values) > 0 {
		why = " (" + values[0].failed + ")"
	}
	return fmt.Errorf("train: none of %d detectors can be fitted and answers within %g ms on these rigs%s: allow a longer wait, or name a detector", tried, maxWaitMs, why)
}

// trainable returns the cases that are trained on.
func trainable(cases []Case) []Case {
	var out []Case
	for _, c := range cases {
		if c.trainable() {
			out = append(out, c)
		}
	}
	return out
}

func positions(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// ableFamilies leaves out what needs a gyroscope that a rig does not have, and
// cuts what waits too long.
func ableFamilies(families []models.Family, gyro bool, maxWaitMs float64) []models.Family {
	var out []models.Family
	for _, f := range families {
		if f.NeedsGyro && !gyro {
			continue
		}
		if f.Wait(gyro) > maxWaitMs {
			f = Within(f, maxWaitMs)
		}
		out = append(out, f)
	}
	return out
}

// gyroEverywhere tells whether all rigs have a gyroscope.
func gyroEverywhere(cases []Case) bool {
	return !slices.ContainsFunc(cases, func(c Case) bool { return !c.Rig.HasGyro() })
}

// knowingRule takes a rule where there are no labels: of those that answer in
// time the last that gives a height, else the last.
func knowingRule(ctx context.Context, d *Data, able []models.Family, gyro bool, o AutoOptions) (models.Detector, string, error) {
	var high, flat []models.Family
	for _, f := range slices.Backward(able) {
		switch {
		case f.Kind != models.Rule:
		case slices.Contains(f.Gives, "height"):
			high = append(high, f)
		default:
			flat = append(flat, f)
		}
	}
	rules := slices.Concat(high, flat)
	if len(rules) == 0 {
		return nil, "", fmt.Errorf("train: no strike has a %s and no rule is among the detectors: label sessions first", label.OfTruth(d.TrainTruth))
	}
	var values []picked
	for _, f := range rules {
		detector, err := f.Fit(ctx, nil, models.Options{Seed: o.Seed})
		switch {
		case ctx.Err() != nil:
			return nil, "", ctx.Err()
		case err != nil:
			values = append(values, picked{failed: err.Error()})
		case detector.Info().Wait(gyro) > o.MaxWaitMs:
			values = append(values, picked{failed: late(f.Name, detector.Info().Wait(gyro))})
		default:
			return detector, fmt.Sprintf("%s, a rule, because no strike has a label to learn from", f.Name), nil
		}
	}
	return nil, "", noneInTime(len(rules), values, o.MaxWaitMs)
}

func late(name string, waitMs float64) string { return fmt.Sprintf("%s: waits %g ms", name, waitMs) }

// autoSplits parts labelled cases for picking, and says how.
func autoSplits(cases []Case) ([]Split, string) {
	items := make([]Item, len(cases))
	for i, c := range cases {
		items[i] = c.item()
	}
	if folds, err := Folds(items, autoFolds); err == nil {
		return folds, fmt.Sprintf("%d folds of whole sessions", len(folds))
	}
	n := min(autoStretches, len(cases))
	stretches := make([]Split, n)
	for s := range stretches {
		for i := range cases {
			if i*n/len(cases) == s {
				stretches[s].Test = append(stretches[s].Test, i)
			} else {
				stretches[s].Train = append(stretches[s].Train, i)
			}
		}
	}
	return stretches, fmt.Sprintf("%d stretches of the only labelled session, which flatters fitted detectors", n)
}

// crossValidate sums up the answers of every family, and of the pair of what errs
// least in bearing and what errs least in height. It returns the families with the
// pair among them.
func crossValidate(ctx context.Context, cases []Case, folds []Split, families []models.Family, byAim bool, o AutoOptions) ([]picked, []models.Family, error) {
	scored := make([]Case, len(cases)) // scored against the labels that are trained on
	for i, c := range cases {
		c.Score = c.Train
		scored[i] = c
	}
	bare := make([]models.Family, len(families)) // only answers are wanted
	for k, f := range families {
		bare[k] = fitWith(f, func(o *models.Options) { o.Uncalibrated = true })
	}
	run, err := runFolds(ctx, scored, folds, bare, Options{Seed: o.Seed, Workers: o.Workers, Progress: o.Progress})
	if err != nil {
		return nil, nil, err
	}
	why := map[string]string{} // the first reason of each that could not be fitted
	for _, s := range run.skipped {
		if why[s.Detector] == "" {
			why[s.Detector] = fmt.Sprintf("%s: %s: %s", s.Detector, s.Where, s.Why)
		}
	}
	out := make([]picked, len(families))
	for k, f := range families {
		if why[f.Name] != "" {
			out[k] = picked{name: f.Name, failed: why[f.Name]}
			continue
		}
		out[k] = tally(f.Name, scored, run.answers[k], run.cost[k])
		if out[k].cost.WaitMs > o.MaxWaitMs {
			out[k].failed = late(f.Name, out[k].cost.WaitMs)
		}
	}
	if b, h, ok := bestHalves(out, families, byAim, o.MaxWaitMs, gyroEverywhere(cases)); ok {
		pair := models.Pair(families[b], families[h])
		out = append(out, tallyPair(pair.Name, scored, run, b, h))
		families = append(slices.Clone(families), pair)
	}
	return out, families, nil
}
