package eval

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/models"
)

// heaviestLabels is how many labels of a rig are listed.
const heaviestLabels = 5

// HeavyLabel is a labelled strike that much of a detector's error comes from:
// one of the hardest, or wrongly labelled.
type HeavyLabel struct {
	Rig           string  `json:"rig"`             // name of the rig
	Detector      string  `json:"detector"`        // name of the detector that errs
	Session       string  `json:"session"`         // name of the session
	OnsetS        float64 `json:"onset_s"`         // first instant of contact, seconds from the session's first sample on the repaired clock
	BearingErrDeg float64 `json:"bearing_err_deg"` // estimate less label, degrees, in (-180, 180]
	HeightErrM    float64 `json:"height_err_m"`    // estimate less label, metres
	// Share is the share of the detector's error on the rig, in [0, 1]: the mean of that of
	// all sizes of bearing errors and that of all sizes of height errors.
	Share float64 `json:"share"`
	// Against is how many of the others come nearer to this detector's answer than to
	// the label, at least 0. Detectors err alike, so that this is a hint to look, not a
	// judgement.
	Against int `json:"against"`
	Others  int `json:"others"` // how many other detectors answered, at least 0
}

// addHeavyLabels lists the labels of each rig that the error of the best
// detector comes from most.
func (c *Comparison) addHeavyLabels() {
	best := c.BestTwo()
	if len(best) == 0 {
		return
	}
	k := slices.IndexFunc(c.Detectors, func(d DetectorDoc) bool { return d.Name == best[0] })
	for _, own := range c.rigsStrikes() {
		weighed := c.weigh(own.name, k, own.strikes)
		for _, w := range weighed[:min(heaviestLabels, len(weighed))] {
			c.HeavyLabels = append(c.HeavyLabels, w.HeavyLabel)
		}
	}
}

// rigStrikes are the strikes on one rig, by position in Strikes.
type rigStrikes struct {
	name    string
	strikes []int
}

// rigsStrikes lists the rigs by name.
func (c *Comparison) rigsStrikes() []rigStrikes {
	byRig := map[string][]int{}
	for i, s := range c.Strikes {
		byRig[s.Name] = append(byRig[s.Name], i)
	}
	var out []rigStrikes
	for _, name := range sortedKeys(byRig) {
		out = append(out, rigStrikes{name, byRig[name]})
	}
	return out
}

// weighed is a label with its strike, by position in Strikes.
type weighed struct {
	HeavyLabel
	strike int
}

// weigh tells how much of the error of detector k on a rig each whole label
// brings, the heaviest first.
func (c *Comparison) weigh(rig string, k int, strikes []int) []weighed {
	var bearingSum, heightSum float64
	for _, i := range strikes {
		s := c.Scores[k][i]
		bearingSum += known(math.Abs(s.BearingErrDeg))
		heightSum += known(math.Abs(s.HeightErrM))
	}
	var out []weighed
	for _, i := range strikes {
		s := c.Scores[k][i]
		if math.IsNaN(s.BearingErrDeg) || math.IsNaN(s.HeightErrM) {
			continue // a label of a part
		}
		l := HeavyLabel{Rig: rig, Detector: c.Detectors[k].Name, Session: c.Strikes[i].Session, OnsetS: float64(c.Strikes[i].OnsetNs) / 1e9,
			BearingErrDeg: s.BearingErrDeg, HeightErrM: s.HeightErrM}
		around, upDown := share(math.Abs(s.BearingErrDeg), bearingSum), share(math.Abs(s.HeightErrM), heightSum)
		l.Share = (around + upDown) / 2
		l.Against, l.Others = c.against(k, i, around >= upDown)
		out = append(out, weighed{l, i})
	}
	slices.SortStableFunc(out, func(a, b weighed) int { return cmp.Compare(b.Share, a.Share) })
	return out
}

// known is x, or 0 where it is not known.
func known(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// share is a part of a sum; 0 where either is not known or none.
func share(x, sum float64) float64 {
	if !(sum > 0) {
		return 0
	}
	return known(x) / sum
}

// against counts the detectors that come nearer to the answer of detector k than
// to the label, around or up and down.
func (c *Comparison) against(k, strike int, around bool) (against, others int) {
	truth, answer := c.Strikes[strike].Truth, c.Answers[k][strike]
	for j := range c.Detectors {
		s, e := c.Scores[j][strike], c.Answers[j][strike]
		toLabel, toAnswer := math.Abs(e.HeightM-truth.HeightM), math.Abs(e.HeightM-answer.HeightM)
		gives := s.HeightErrM
		if around {
			toLabel, toAnswer = math.Abs(bearing.Diff(e.BearingDeg, truth.BearingDeg)), math.Abs(bearing.Diff(e.BearingDeg, answer.BearingDeg))
			gives = s.BearingErrDeg
		}
		if j == k || math.IsNaN(gives) {
			continue
		}
		others++
		if toAnswer < toLabel {
			against++
		}
	}
	return against, others
}

// SessionEffect is what the errors on the other sessions of a rig would be
// without the labels of one.
type SessionEffect struct {
	Rig      string `json:"rig"`      // name of the rig
	Detector string `json:"detector"` // name of the detector
	Session  string `json:"session"`  // name of the session whose labels were left out
	Labels   int    `json:"labels"`   // how many labels that were, at least 0
	// Bearing is the change of the mean bearing error on the other sessions without those
	// labels, degrees: positive where they help.
	Bearing Figure `json:"bearing_change_deg"`
	Height  Figure `json:"height_change_m"` // likewise of the mean height error, metres
}

// SessionEffects leaves the labels of one session at a time out of training, and
// tells how that changes a family's errors on the others, each of which is
// scored by what was not trained on it. A rig needs three labelled sessions. The
// effects of the largest change of bearing come first.
func SessionEffects(ctx context.Context, d *Data, family models.Family, o Options) ([]SessionEffect, []Skip, error) {
	o = o.withDefaults()
	rigs, skipped, err := learningRigs(d)
	if err != nil {
		return nil, nil, fmt.Errorf("effects of sessions: %w", err)
	}
	var out []SessionEffect
	for _, r := range rigs {
		if len(r.folds) < 3 {
			skipped = append(skipped, Skip{Detector: family.Name, Where: "effects of sessions on rig " + r.name, Why: "it takes three labelled sessions"})
			continue
		}
		effects, why, err := sessionEffectsOn(ctx, d, r, family, o)
		if err != nil {
			return nil, nil, err
		}
		if why != "" {
			skipped = append(skipped, Skip{Detector: family.Name, Where: "effects of sessions on rig " + r.name, Why: why})
			continue
		}
		out = append(out, effects...)
	}
	return out, skipped, nil
}

func sessionEffectsOn(ctx context.Context, d *Data, r learningRig, family models.Family, o Options) ([]SessionEffect, string, error) {
	n := len(r.folds)
	errs := make([]map[int]Score, n*n) // [fold * n + session left out], itself for none
	failed := make([]string, n*n)
	err := parallel(ctx, n*n, o.Workers, func(task int) error {
		fold, without := r.folds[task/n], r.folds[task%n].Left
		if task/n != task%n {
			fold.Train = slices.DeleteFunc(slices.Clone(fold.Train), func(i int) bool { return d.Cases[i].Session == without })
		}
		answers, why, err := fitAndAnswer(ctx, d.Cases, fold, trainingSet(d.Cases, fold.Train), family, o.Seed)
		if err != nil {
			return err
		}
		errs[task], failed[task] = map[int]Score{}, why
		for i, a := range answers {
			errs[task][i] = NewScore(a.Estimate, *d.Cases[i].Score, d.Cases[i].Rig, family.Gives)
		}
		if o.Progress != nil {
			o.Progress.Add(1)
		}
		return nil
	})
	if err != nil {
		return nil, "", err
	}
	for _, why := range failed {
		if why != "" {
			return nil, why, nil
		}
	}
	var out []SessionEffect
	for s, left := range r.folds {
		var sessions []string
		var deg, m []float64
		for f, fold := range r.folds {
			if f == s {
				continue
			}
			for _, i := range fold.Test {
				with, ok := errs[f*n+f][i]
				if !ok {
					continue
				}
				without := errs[f*n+s][i]
				sessions = append(sessions, d.Cases[i].Session)
				deg = append(deg, math.Abs(without.BearingErrDeg)-math.Abs(with.BearingErrDeg))
				m = append(m, math.Abs(without.HeightErrM)-math.Abs(with.HeightErrM))
			}
		}
		unit, units, _ := resamplingUnits(sessions)
		resamples := newResampler(units, o.Resamples, stream(o.Seed, "effect of "+left.Left))
		labels := 0
		for _, i := range left.Test {
			if d.Cases[i].trainable() {
				labels++
			}
		}
		out = append(out, SessionEffect{Rig: r.name, Detector: family.Name, Session: left.Left, Labels: labels,
			Bearing: column{values: deg}.figure(unit, resamples, o.Level), Height: column{values: m}.figure(unit, resamples, o.Level)})
	}
	slices.SortStableFunc(out, func(a, b SessionEffect) int {
		return cmp.Compare(math.Abs(b.Bearing.Value), math.Abs(a.Bearing.Value))
	})
	return out, "", nil
}

// SessionFits is how many fits SessionEffects makes, for its progress.
func SessionFits(d *Data) int {
	rigs, _, err := learningRigs(d)
	if err != nil {
		return 0
	}
	fits := 0
	for _, r := range rigs {
		if n := len(r.folds); n >= 3 {
			fits += n * n
		}
	}
	return fits
}
