package eval

import (
	order "cmp"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/bearing"
	"strikerose/models"
)

// strikesLike are strikes of one rig alike in all, with the error of one detector
// and a second one that agrees with the label.
func strikesLike(n int) *Comparison {
	c := &Comparison{Detectors: []DetectorDoc{{Name: "one"}, {Name: "two"}, {Name: "three"}}, Scores: make([][]Score, 3)}
	for i := range n {
		c.Strikes = append(c.Strikes, StrikeDoc{Session: "s", Rig: "shed-r1", Name: "shed", OnsetNs: int64(i) * 2e9, SinceS: 2, PeakMPS2: 50, SwingMPS2: 1,
			DeadM: math.NaN(), Truth: Target{BearingDeg: 0, HeightM: 0.5, Kind: "straight"}})
		for k := range c.Scores {
			c.Scores[k] = append(c.Scores[k], Score{BearingErrDeg: 1, HeightErrM: 0.01, BearingHalfDeg: 5, HeightHalfM: 0.05})
		}
	}
	return c
}

// answersOf gives each detector's answers the errors that its scores have.
func answersOf(c *Comparison) [][]models.Estimate {
	out := make([][]models.Estimate, len(c.Detectors))
	for k := range out {
		for i, s := range c.Strikes {
			out[k] = append(out[k], models.Estimate{BearingDeg: bearing.Wrap360(s.Truth.BearingDeg + c.Scores[k][i].BearingErrDeg), HeightM: s.Truth.HeightM + c.Scores[k][i].HeightErrM})
		}
	}
	return out
}

func TestReasonsOfStrike(t *testing.T) {
	const at = 7
	for _, test := range []struct {
		name   string
		change func(c *Comparison)
		label  HeavyLabel
		want   []string
	}{
		{"nothing stands out", func(*Comparison) {}, HeavyLabel{}, nil},
		{"clipped beside a gap", func(c *Comparison) { c.Strikes[at].Clipped, c.Strikes[at].NearGap = true, true }, HeavyLabel{}, []string{ReasonClipped, ReasonGap}},
		{"second of a double hit", func(c *Comparison) { c.Strikes[at].SinceS = 0.3 }, HeavyLabel{}, []string{ReasonSecond}},
		{"not known since when", func(c *Comparison) { c.Strikes[at].SinceS = 0 }, HeavyLabel{}, nil},
		{"another hit soon", func(c *Comparison) { c.Strikes[at+1].OnsetNs = c.Strikes[at].OnsetNs + 20e6 }, HeavyLabel{}, []string{ReasonNext}},
		{"another hit soon in another session", func(c *Comparison) {
			c.Strikes[at+1].OnsetNs, c.Strikes[at+1].Session = c.Strikes[at].OnsetNs+20e6, "t"
		}, HeavyLabel{}, nil},
		{"swinging", func(c *Comparison) { c.Strikes[at].SwingMPS2 = 9 }, HeavyLabel{}, []string{ReasonSwing}},
		{"light", func(c *Comparison) { c.Strikes[at].PeakMPS2 = 4 }, HeavyLabel{}, []string{ReasonLight}},
		{"near the dead height", func(c *Comparison) { c.Strikes[at].DeadM = 0.53 }, HeavyLabel{}, []string{ReasonDead}},
		{"not near it", func(c *Comparison) { c.Strikes[at].DeadM = 0.56 }, HeavyLabel{}, nil},
		{"a kind that errs more", func(c *Comparison) {
			for i := at; i < at+kindLeast; i++ {
				c.Strikes[i].Truth.Kind, c.Scores[0][i].HeightErrM = "tap", 0.04
			}
		}, HeavyLabel{}, []string{ReasonKind}},
		{"too few of a kind", func(c *Comparison) {
			for i := at; i < at+kindLeast-1; i++ {
				c.Strikes[i].Truth.Kind, c.Scores[0][i].HeightErrM = "tap", 0.04
			}
		}, HeavyLabel{}, nil},
		{"far off and others with it", func(c *Comparison) { c.Scores[0][at].BearingErrDeg = 60 }, HeavyLabel{Against: 2, Others: 2}, []string{ReasonLabel}},
		{"far off and alone", func(c *Comparison) { c.Scores[0][at].BearingErrDeg = 60 }, HeavyLabel{Against: 1, Others: 2}, nil},
		{"as far off as it states", func(c *Comparison) { c.Scores[0][at].BearingErrDeg = 14 }, HeavyLabel{Against: 2, Others: 2}, nil},
	} {
		c := strikesLike(40)
		test.change(c)
		var all []int
		for i := range c.Strikes {
			all = append(all, i)
		}
		c.Answers = answersOf(c)
		list := c.weigh("shed", 0, all)
		var got []string
		for _, r := range c.reasons(weighed{test.label, at}, 0, c.usual(list)) {
			got = append(got, r.Name)
			if r.Words == "" {
				t.Errorf("%s: reason %s has no words", test.name, r.Name)
			}
		}
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s: (-want +got)\n%s", test.name, diff)
		}
	}
}

func TestTimesUsualHasMeanOne(t *testing.T) {
	c := strikesLike(20)
	for i := range c.Strikes {
		c.Scores[0][i].BearingErrDeg = float64(i)
	}
	c.Answers = answersOf(c)
	all := make([]int, len(c.Strikes))
	for i := range all {
		all[i] = i
	}
	sum := 0.0
	list := c.weigh("shed", 0, all)
	for _, w := range list {
		sum += w.Share * float64(len(list))
	}
	if math.Abs(sum/20-1) > 1e-12 {
		t.Errorf("mean %g, want 1", sum/20)
	}
	if list[0].strike != 19 || !slices.IsSortedFunc(list, func(a, b weighed) int { return order.Compare(b.Share, a.Share) }) {
		t.Errorf("the heaviest is strike %d, want 19 first and all in order", list[0].strike)
	}
}
