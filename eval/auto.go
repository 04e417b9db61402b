package eval

import (
	"context"
	"errors"
	"fmt"
	"slices"

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
	// DefaultMaxWaitMs is how long after the onset an answer may take.
	DefaultMaxWaitMs = 75

	autoFolds     = 5 // of whole sessions
	autoStretches = 4 // of a single session
)

// TrainAuto picks among families and returns the chosen one fitted on all
// labelled strikes, with a sentence that says why it was chosen.
//
// Families that wait too long, or need a gyroscope that a rig does not have,
// are out. The rest are cross-validated on at most five folds of whole
// sessions, against the labels that training uses; the least Criterion wins,
// or, where most labels come from a plan, the fewest wrong faces and bands. What
// can be exported to a board goes before what cannot and is better by less than a
// standard error.
// Where a single session is labelled it is cut into four stretches of time
// instead, and the sentence says so, since that flatters what is fitted.
// Without labels the last rule in the list that gives a height, else the
// first rule, is taken: rules are listed from the plain to the knowing.
func TrainAuto(ctx context.Context, d *Data, families []models.Family, o AutoOptions) (models.Detector, string, error) {
	if o.MaxWaitMs == 0 {
		o.MaxWaitMs = DefaultMaxWaitMs
	}
	labelled := trainable(d.Cases)
	everything := d.TrainingExamples()
	able := ableFamilies(families, labelled, o.MaxWaitMs)
	if len(able) == 0 {
		return nil, "", fmt.Errorf("train: none of %d detectors answers within %g ms on these rigs: allow a longer wait, or name a detector", len(families), o.MaxWaitMs)
	}
	if len(labelled) == 0 {
		f, ok := knowingRule(able)
		if !ok {
			return nil, "", fmt.Errorf("train: no strike has a label of %s and no rule is among the detectors: label sessions first", d.TrainTruth)
		}
		detector, err := f.Fit(ctx, nil, models.Options{Seed: o.Seed})
		return detector, fmt.Sprintf("%s, a rule, because no strike has a label to learn from", f.Name), err
	}
	folds, how := autoSplits(labelled)
	values, err := crossValidate(ctx, labelled, folds, able, o)
	if err != nil {
		return nil, "", err
	}
	byAim := mostlyAims(labelled)
	best, second := ranked(values, byAim)
	if best < 0 {
		return nil, "", errors.New("train: no detector can be fitted: " + values[0].failed)
	}
	detector, err := able[best].Fit(ctx, everything, models.Options{Seed: o.Seed})
	if err != nil {
		return nil, "", fmt.Errorf("train: %s on all %d labelled strikes: %w", able[best].Name, len(everything), err)
	}
	return detector, reason(values, best, second, byAim, how), nil
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

func ableFamilies(families []models.Family, cases []Case, maxWaitMs float64) []models.Family {
	gyro := true
	for _, c := range cases {
		gyro = gyro && c.Rig.HasGyro()
	}
	var out []models.Family
	for _, f := range families {
		if f.Wait(gyro) <= maxWaitMs && (gyro || !f.NeedsGyro) {
			out = append(out, f)
		}
	}
	return out
}

func knowingRule(families []models.Family) (models.Family, bool) {
	var rule models.Family
	found := false
	for _, f := range families {
		if f.Kind == models.Rule && (!found || slices.Contains(f.Gives, "height")) {
			rule, found = f, true
		}
	}
	return rule, found
}

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

func crossValidate(ctx context.Context, cases []Case, folds []Split, families []models.Family, o AutoOptions) ([]picked, error) {
	scored := make([]Case, len(cases)) // scored against the labels that are trained on
	for i, c := range cases {
		c.Score = c.Train
		scored[i] = c
	}
	run, err := runFolds(ctx, scored, folds, families, Options{Seed: o.Seed, Workers: o.Workers, Progress: o.Progress})
	if err != nil {
		return nil, err
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
		out[k] = tally(f.Info, scored, run.answers[k])
	}
	return out, nil
}
