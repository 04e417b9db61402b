package eval

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/label"
)

// Examples runs the chain and the features over the samples of each session,
// finds its strikes, and joins them with labels by time. Sessions are worked
// on in parallel; the result does not depend on how many at once.
//
// A strike that a truth says was none, or says nothing of, is not used with
// that truth; the counts say how many. Labels never reach the chain or the
// features.
func Examples(ctx context.Context, src Source, sessions []dataset.Session, o JoinOptions) (*Data, error) {
	if o.ScoreTruth == "" {
		o.ScoreTruth = label.Best
	}
	if o.TrainTruth == "" {
		o.TrainTruth = o.ScoreTruth
	}
	for _, truth := range []string{o.TrainTruth, o.ScoreTruth} {
		if !slices.Contains(Truths(), truth) {
			return nil, fmt.Errorf("truth %q: unknown: give one of %s", truth, strings.Join(Truths(), ", "))
		}
	}
	if err := repeated(sessions); err != nil {
		return nil, err
	}
	rigs := map[string]*rig.Rig{}
	for _, s := range sessions {
		if rigs[s.Rig] != nil {
			continue
		}
		r, err := src.Rig(s.Rig)
		if err != nil {
			return nil, fmt.Errorf("session %s: rig %s: %w", s.Name, s.Rig, err)
		}
		rigs[s.Rig] = r
	}
	joined := make([]joinedSession, len(sessions))
	err := parallel(ctx, len(sessions), o.Workers, func(i int) error {
		var err error
		joined[i], err = join(ctx, src, sessions[i], rigs[sessions[i].Rig], o)
		if err == nil && o.Progress != nil {
			o.Progress.Add(1)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	d := &Data{TrainTruth: o.TrainTruth, ScoreTruth: o.ScoreTruth}
	for _, j := range joined {
		d.Cases = append(d.Cases, j.cases...)
		d.Counts = append(d.Counts, j.counts)
		if j.counts.CompleteTruth {
			d.Detection = append(d.Detection, j.detection)
		}
	}
	return d, nil
}

// repeated refuses a session that is given twice: it would be on both sides of
// a split.
func repeated(sessions []dataset.Session) error {
	seen := map[string]bool{}
	for _, s := range sessions {
		if seen[s.Name] {
			return fmt.Errorf("session %s: given twice: name each session once", s.Name)
		}
		seen[s.Name] = true
	}
	return nil
}

type joinedSession struct {
	cases     []Case
	counts    Counts
	detection DetectionSession
}

func join(ctx context.Context, src Source, s dataset.Session, r *rig.Rig, o JoinOptions) (joinedSession, error) {
	var out joinedSession
	fail := func(err error) (joinedSession, error) { return out, fmt.Errorf("session %s: %w", s.Name, err) }
	signal, err := src.Signal(ctx, s.Name)
	if err != nil {
		return fail(err)
	}
	claims, err := src.Claims(s.Name)
	if err != nil {
		return fail(err)
	}
	windows, err := chain.Run(ctx, r, signal, WholeWindow())
	if err != nil {
		return fail(err)
	}
	strikes := make([]dataset.Strike, len(windows))
	for i, w := range windows {
		strikes[i] = w.Strike
	}
	score, orphans := label.Resolve(claims, strikes, o.ScoreTruth, label.MatchNs())
	train := score
	if o.TrainTruth != o.ScoreTruth {
		train, _ = label.Resolve(claims, strikes, o.TrainTruth, label.MatchNs())
	}
	out.counts = Counts{Session: s.Name, Rig: s.Rig, Striker: s.Striker, Found: len(windows), OrphanLabels: len(orphans), NoiseMPS2: rms(s.NoiseMPS2)}
	for i, w := range windows {
		c := Case{
			Session: s.Name, Striker: s.Striker, Rig: r, Strike: w.Strike,
			Score: targetOf(score[i], r), Train: targetOf(train[i], r), SinceS: math.Inf(1),
		}
		if i > 0 {
			c.SinceS = float64(w.Strike.OnsetNs-windows[i-1].Strike.OnsetNs) / 1e9
		}
		switch {
		case c.Score != nil:
			out.counts.Scored++
		case score[i].NotStrike:
			out.counts.NotStrikes++
		default:
			out.counts.Unlabelled++
		}
		switch {
		case c.trainable():
			out.counts.Trained++
		case c.Train != nil:
			out.counts.PartLabels++
		}
		if c.Score != nil || c.Train != nil {
			c.Row, c.Window = features.Extract(w, r, nil), w
			out.cases = append(out.cases, c)
		}
	}
	if out.detection, out.counts.CompleteTruth = completeTruth(claims); out.counts.CompleteTruth {
		// A strike is ready when the finder has decided, not when the longest
		// feature has been read.
		out.detection.Session = s.Name
		out.counts.TruthStrikes = len(out.detection.TruthNs)
		for _, w := range windows {
			out.detection.add(w.Found)
		}
	}
	return out, nil
}

// rms is the root mean square of three axes.
func rms(v [3]float64) float64 {
	return math.Sqrt((v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) / 3)
}

// targetOf turns a label into a target; nil where there is none, where it says
// that there was no strike, or where it says neither bearing nor height.
func targetOf(l label.Label, r *rig.Rig) *Target {
	if l.Claim == nil || l.NotStrike {
		return nil
	}
	p := l.Claim.PlaceOn(r)
	if math.IsNaN(p.BearingDeg) && math.IsNaN(p.HeightM) {
		return nil
	}
	return &Target{
		BearingDeg: p.BearingDeg, HeightM: p.HeightM,
		BearingSDDeg: p.BearingSDDeg, HeightSDM: p.HeightSDM,
		Face: p.Face, Band: p.Band, Kind: l.Claim.Kind, Source: l.Claim.Source, Confidence: l.Claim.Confidence,
	}
}

// completeTruth returns the onsets of a session's timed truth in the stretches
// that it lists completely; false where there is no such stretch.
func completeTruth(claims []label.Claim) (DetectionSession, bool) {
	var d DetectionSession
	standing := label.Standing(claims)
	for _, c := range standing {
		if c.Source == label.Timed && c.Complete {
			end := c.EndNs
			if end == 0 {
				end = math.MaxInt64
			}
			d.stretches = append(d.stretches, [2]int64{c.OnsetNs, end})
		}
	}
	for _, c := range standing {
		if c.Source == label.Timed && c.AboutStrike() && !c.NotStrike && d.covers(c.OnsetNs) {
			d.TruthNs = append(d.TruthNs, c.OnsetNs)
		}
	}
	return d, len(d.stretches) > 0
}

// covers tells whether the truth is complete at a moment.
func (d *DetectionSession) covers(ns int64) bool {
	return slices.ContainsFunc(d.stretches, func(s [2]int64) bool { return s[0] <= ns && ns <= s[1] })
}

// add takes a find up where the truth is complete.
func (d *DetectionSession) add(s dataset.Strike) {
	if d.covers(s.OnsetNs) {
		d.FoundNs = append(d.FoundNs, s.OnsetNs)
		d.ReadyNs = append(d.ReadyNs, s.ReadyNs)
	}
}

// WholeWindow is the window that every feature fits into.
func WholeWindow() chain.Options {
	pre, post := features.Longest()
	return chain.Options{PreMs: pre, PostMs: post}
}
