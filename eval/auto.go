package eval

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

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
// sessions, against the labels that training uses; the least Criterion wins.
// Where a single session is labelled it is cut into four stretches of time
// instead, and the sentence says so, since that flatters what is fitted.
// Without labels the first rule in the list that gives a height, else the
// first rule, is taken.
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
		f, ok := firstRule(able)
		if !ok {
			return nil, "", fmt.Errorf("train: no strike has a label of %s and no rule is among the detectors: label sessions first", d.TrainTruth)
		}
		detector, err := f.Fit(ctx, nil, o.Seed)
		return detector, fmt.Sprintf("%s, a rule, because no strike has a label to learn from", f.Name), err
	}
	folds, how := autoSplits(labelled)
	values, err := crossValidate(ctx, labelled, folds, able, o)
	if err != nil {
		return nil, "", err
	}
	best, second := -1, -1
	for k, v := range values {
		switch {
		case v.failed != "":
		case best < 0 || v.criterion < values[best].criterion:
			best, second = k, best
		case second < 0 || v.criterion < values[second].criterion:
			second = k
		}
	}
	if best < 0 {
		return nil, "", errors.New("train: no detector can be fitted: " + values[0].failed)
	}
	detector, err := able[best].Fit(ctx, everything, o.Seed)
	if err != nil {
		return nil, "", fmt.Errorf("train: %s on all %d labelled strikes: %w", able[best].Name, len(everything), err)
	}
	return detector, autoReason(able, values, best, second, how), nil
}

// Criterion is what TrainAuto ranks by: the mean bearing error in halves of a
// face plus the mean height error in halves of a band (the rig's mean band).
// At 1 for either part a typical error reaches the edge of what was struck.
// Common practice, no source.
func Criterion(bearingMAEDeg, heightMAEM float64, faces, bands int, lengthM float64) float64 {
	return bearingMAEDeg/(180/float64(faces)) + heightMAEM/(lengthM/float64(bands)/2)
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
		if f.WaitMs <= maxWaitMs && (gyro || !f.NeedsGyro) {
			out = append(out, f)
		}
	}
	return out
}

func firstRule(families []models.Family) (models.Family, bool) {
	var first models.Family
	found := false
	for _, f := range families {
		if f.Kind != models.Rule {
			continue
		}
		if strings.Contains(strings.Join(f.Gives, " "), "height") {
			return f, true
		}
		if !found {
			first, found = f, true
		}
	}
	return first, found
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

// picked is what cross-validation found of one family.
type picked struct {
	criterion     float64
	bearingMAEDeg float64
	heightMAEM    float64
	failed        string // why it could not be fitted; "" where it could
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
		if out[k].failed = why[f.Name]; out[k].failed != "" {
			continue
		}
		var bearingDeg, heightM, sum float64
		for i, c := range scored {
			s := NewScore(run.answers[k][i], *c.Score, c.Rig, []string{"bearing", "height"})
			bearingDeg += math.Abs(s.BearingErrDeg)
			heightM += math.Abs(s.HeightErrM)
			sum += Criterion(math.Abs(s.BearingErrDeg), math.Abs(s.HeightErrM), c.Rig.Faces, len(c.Rig.Bands), c.Rig.Bag.LengthM)
		}
		n := float64(len(scored))
		out[k].criterion, out[k].bearingMAEDeg, out[k].heightMAEM = sum/n, bearingDeg/n, heightM/n
	}
	return out, nil
}

func autoReason(families []models.Family, values []picked, best, second int, how string) string {
	v := values[best]
	reason := fmt.Sprintf("%s, because over %s its mean errors of %.1f degrees and %.1f cm are the smallest in halves of a face plus halves of a band (%.2f", families[best].Name, how, v.bearingMAEDeg, 100*v.heightMAEM, v.criterion)
	if second >= 0 {
		reason += fmt.Sprintf("; next %s with %.1f degrees, %.1f cm, %.2f", families[second].Name, values[second].bearingMAEDeg, 100*values[second].heightMAEM, values[second].criterion)
	}
	return reason + ")"
}
