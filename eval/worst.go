package eval

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"strikerose/features"
)

const (
	worstStrikes = 10

	// nearDeadM is how near the dead height a strike counts as near it, kindTimes
	// how many times the usual error a kind must have to be a reason, and kindLeast
	// of how many strikes. Common practice, no source.
	nearDeadM = 0.05
	kindTimes = 1.25
	kindLeast = 5

	// outstanding is the share of a rig's strikes that count as the lightest, and
	// as those before which the bag swung most.
	outstanding = 0.1

	// doubtTimes is how many times its stated half-width of 90 % an answer must lie
	// from a label for the label to be doubted, and doubtShare the share of the
	// other detectors that must come nearer to the answer.
	doubtTimes = 3
	doubtShare = 2. / 3
)

// WorstStrike is one of the strikes on which the best detector errs most.
type WorstStrike struct {
	HeavyLabel
	TimesUsual float64  `json:"times_usual"` // its error against the usual one of its rig, of which the mean is 1, at least 0
	Reasons    []Reason `json:"reasons"`     // what stands out about it; empty where nothing does
	Strike     int      `json:"-"`           // position in Strikes
}

// Reason is something that stands out about a strike and may be why it is hard.
type Reason struct {
	// Name is what stands out: one of ReasonLabel, ReasonKind, ReasonLight, ReasonDead,
	// ReasonClipped, ReasonSwing, ReasonSecond, ReasonNext or ReasonGap.
	Name  string `json:"name"`
	Words string `json:"words"` // the same with its numbers
}

// Names of reasons.
const (
	ReasonLabel   = "label in doubt"
	ReasonKind    = "hard kind"
	ReasonLight   = "light"
	ReasonDead    = "near the dead height"
	ReasonClipped = "clipped"
	ReasonSwing   = "swinging before"
	ReasonSecond  = "second hit"
	ReasonNext    = "another hit after"
	ReasonGap     = "beside a gap"
)

// ReasonCount holds how often a reason is found among the worst strikes against
// all: one that is as common among all explains nothing.
type ReasonCount struct {
	Name    string `json:"name"`    // what stands out, in the words of a worst strike's reasons
	Worst   int    `json:"worst"`   // how many of the worst strikes have it, at least 0
	Strikes int    `json:"strikes"` // how many of all strikes that could be judged have it, at least 0
	Of      int    `json:"of"`      // how many strikes could be judged, at least 0
}

// addWorst lists the worst strikes of all rigs, by how many times the usual error
// of their rig the best detector errs, and what stands out about them.
func (c *Comparison) addWorst() {
	best := c.BestTwo()
	if len(best) == 0 {
		return
	}
	k := slices.IndexFunc(c.Detectors, func(d DetectorDoc) bool { return d.Name == best[0] })
	count := map[string]*ReasonCount{}
	all := 0
	for _, own := range c.rigsStrikes() {
		weighed := c.weigh(own.name, k, own.strikes)
		all += len(weighed)
		about := c.usual(weighed)
		for _, w := range weighed {
			s := WorstStrike{HeavyLabel: w.HeavyLabel, Strike: w.strike, TimesUsual: w.Share * float64(len(weighed)), Reasons: c.reasons(w, k, about)}
			for _, r := range s.Reasons {
				if count[r.Name] == nil {
					count[r.Name] = &ReasonCount{Name: r.Name}
				}
				count[r.Name].Strikes++
			}
			c.Worst = append(c.Worst, s)
		}
	}
	slices.SortStableFunc(c.Worst, func(a, b WorstStrike) int { return cmp.Compare(b.TimesUsual, a.TimesUsual) })
	c.Worst = slices.Clone(c.Worst[:min(worstStrikes, len(c.Worst))])
	for _, s := range c.Worst {
		for _, r := range s.Reasons {
			count[r.Name].Worst++
		}
	}
	for _, name := range sortedKeys(count) {
		count[name].Of = all
		c.WorstReasons = append(c.WorstReasons, *count[name])
	}
	slices.SortStableFunc(c.WorstReasons, func(a, b ReasonCount) int { return cmp.Compare(b.Worst, a.Worst) })
}

// usualStrikes is what is usual on one rig.
type usualStrikes struct {
	lightMPS2, swingMPS2 float64            // at the outstanding tenths; NaN where not known
	kind                 map[string]float64 // mean error of hard kinds, times the usual
}

func (c *Comparison) usual(weighed []weighed) usualStrikes {
	var peaks, swings []float64
	sum, n := map[string]float64{}, map[string]int{}
	for _, w := range weighed {
		s := c.Strikes[w.strike]
		if s.PeakMPS2 > 0 {
			peaks = append(peaks, s.PeakMPS2)
		}
		if !math.IsNaN(s.SwingMPS2) && !math.IsInf(s.SwingMPS2, 0) {
			swings = append(swings, s.SwingMPS2)
		}
		sum[s.Truth.Kind] += w.Share * float64(len(weighed))
		n[s.Truth.Kind]++
	}
	out := usualStrikes{lightMPS2: tenth(peaks, outstanding), swingMPS2: tenth(swings, 1-outstanding), kind: map[string]float64{}}
	for kind, total := range sum {
		if mean := total / float64(n[kind]); kind != "" && n[kind] >= kindLeast && mean >= kindTimes {
			out.kind[kind] = mean
		}
	}
	return out
}

// tenth is a quantile; NaN of fewer than ten numbers or of numbers that are all
// the same.
func tenth(x []float64, p float64) float64 {
	slices.Sort(x)
	if len(x) < 10 || x[0] == x[len(x)-1] {
		return math.NaN()
	}
	return quantileOfSorted(x, p)
}

// reasons says what stands out about a strike, what weighs most first.
func (c *Comparison) reasons(w weighed, k int, about usualStrikes) []Reason {
	s, score := c.Strikes[w.strike], c.Scores[k][w.strike]
	out := []Reason{}
	add := func(name, format string, args ...any) {
		out = append(out, Reason{Name: name, Words: fmt.Sprintf(format, args...)})
	}
	beyond := math.Abs(score.BearingErrDeg) > doubtTimes*score.BearingHalfDeg || math.Abs(score.HeightErrM) > doubtTimes*score.HeightHalfM
	if beyond && w.Others >= 2 && float64(w.Against) >= doubtShare*float64(w.Others) {
		add(ReasonLabel, "label in doubt: %d of the %d other detectors come nearer to this answer than to the label, from which it is far beyond what it states", w.Against, w.Others)
	}
	if s.Clipped {
		add(ReasonClipped, "clipped: the accelerometer reached its limit")
	}
	if s.NearGap {
		add(ReasonGap, "beside a gap: samples are missing within its window")
	}
	if s.SinceS > 0 && s.SinceS <= secondHitS {
		add(ReasonSecond, "second hit, %.0f ms after the one before", 1000*s.SinceS)
	}
	if next, ok := c.nextS(w.strike); ok {
		add(ReasonNext, "another hit %.0f ms after, within its window", 1000*next)
	}
	if s.SwingMPS2 > about.swingMPS2 {
		add(ReasonSwing, "the bag was swinging before: %.2g m/s², among the most tenth", s.SwingMPS2)
	}
	if d := math.Abs(s.Truth.HeightM - s.DeadM); d <= nearDeadM {
		add(ReasonDead, "%.0f cm from the dead height, where a strike moves the pivot least", 100*d)
	}
	if times, hard := about.kind[s.Truth.Kind]; hard {
		add(ReasonKind, "%s: this kind errs %.1f times as much as all", s.Truth.Kind, times)
	}
	if s.PeakMPS2 > 0 && s.PeakMPS2 < about.lightMPS2 {
		add(ReasonLight, "light: %.2g m/s² at its peak, among the lightest tenth", s.PeakMPS2)
	}
	return out
}

// nextS is how soon the next labelled strike of the session comes, where that is
// within the window that features read.
func (c *Comparison) nextS(strike int) (float64, bool) {
	if strike+1 >= len(c.Strikes) || c.Strikes[strike+1].Session != c.Strikes[strike].Session {
		return 0, false
	}
	_, postMs := features.Longest()
	s := float64(c.Strikes[strike+1].OnsetNs-c.Strikes[strike].OnsetNs) / 1e9
	return s, s > 0 && s < postMs/1000
}
