package eval

import (
	"fmt"
	"math"
	"slices"

	"strikerose/label"
)

// flipArrangements is how many random arrangements of signs the sign-flip test
// draws where it cannot go through all of them.
const flipArrangements = 9999

// summarise fills the groups from the scores.
func (c *Comparison) summarise(o Options) {
	blocks := false
	for _, m := range c.groups() {
		g := c.measure(m, o)
		blocks = blocks || g.Unit == UnitBlock
		c.Groups = append(c.Groups, g)
	}
	if blocks {
		c.Warnings = append(c.Warnings, fmt.Sprintf("where there are fewer than %d sessions, intervals and tests resample blocks of about %d consecutive strikes, so they speak of these sessions, not of the next one", MinSessions, BlockStrikes))
	}
}

// groups lists all strikes, each rig (where there are several), and the bands
// and kinds of each rig, with the positions of their strikes.
func (c *Comparison) groups() []members {
	var all members
	byRig := map[string][]int{}
	for i, s := range c.Strikes {
		all.strikes = append(all.strikes, i)
		byRig[s.Name] = append(byRig[s.Name], i)
	}
	all.scope = all.strikes
	out := []members{all}
	names := sortedKeys(byRig)
	for _, name := range names {
		if len(names) > 1 {
			out = append(out, members{Group: Group{Rig: name}, strikes: byRig[name], scope: byRig[name]})
		}
	}
	for _, name := range names {
		shown := name
		if len(names) == 1 {
			shown = ""
		}
		scope := byRig[name]
		for _, band := range c.bands(scope) {
			part := c.subset(scope, func(s StrikeDoc) bool { return s.Truth.Band == band })
			out = append(out, members{Group: Group{Rig: shown, Band: band}, strikes: part, scope: scope})
		}
		for _, kind := range c.kinds(scope) {
			part := c.subset(scope, func(s StrikeDoc) bool { return s.Truth.Kind == kind })
			out = append(out, members{Group: Group{Rig: shown, Kind: kind}, strikes: part, scope: scope})
		}
	}
	return out
}

// members is a group with the positions of its strikes, and those of all its
// rig, in whose sequence blocks of consecutive strikes are counted.
type members struct {
	Group
	strikes []int
	scope   []int
}

// units numbers the resampling unit of each strike of the group. Blocks are
// those of the whole sequence, of which a band or kind has only some strikes.
func (c *Comparison) units(m members) (unit []int, units int, kind string) {
	sessions := make([]string, len(m.scope))
	for k, i := range m.scope {
		sessions[k] = c.Strikes[i].Session
	}
	whole, _, kind := resamplingUnits(sessions)
	of := map[int]int{}
	for k, i := range m.scope {
		of[i] = whole[k]
	}
	renumbered := map[int]int{}
	for _, i := range m.strikes {
		u, ok := renumbered[of[i]]
		if !ok {
			u = len(renumbered)
			renumbered[of[i]] = u
		}
		unit = append(unit, u)
	}
	return unit, len(renumbered), kind
}

func (c *Comparison) subset(of []int, has func(StrikeDoc) bool) []int {
	var out []int
	for _, i := range of {
		if has(c.Strikes[i]) {
			out = append(out, i)
		}
	}
	return out
}

// bands lists the bands that have strikes, from the bottom.
func (c *Comparison) bands(strikes []int) []string {
	has := map[string]bool{}
	var order []string
	for _, i := range strikes {
		has[c.Strikes[i].Truth.Band] = true
		for _, b := range c.Strikes[i].Bands {
			if !slices.Contains(order, b) {
				order = append(order, b)
			}
		}
	}
	return slices.DeleteFunc(order, func(b string) bool { return !has[b] })
}

// kinds lists the kinds that strikes have, the usual ones first.
func (c *Comparison) kinds(strikes []int) []string {
	has := map[string]bool{}
	for _, i := range strikes {
		if k := c.Strikes[i].Truth.Kind; k != "" {
			has[k] = true
		}
	}
	var out []string
	for _, k := range []string{"straight", "hook", "uppercut", "tap"} {
		if has[k] {
			out = append(out, k)
			delete(has, k)
		}
	}
	return append(out, sortedKeys(has)...)
}

// measure takes every measure of every detector on a group of strikes, and
// compares the detectors with the best one. A detector that did not answer
// every strike of the group is left out of it: its figures would be of other
// strikes.
func (c *Comparison) measure(m members, o Options) Group {
	g := m.Group
	g.Strikes = len(m.strikes)
	unit, units, kind := c.units(m)
	g.Unit, g.Units = kind, units
	r := newResampler(units, o.Resamples, stream(o.Seed, "bootstrap "+g.where()))

	scores := make([][]Score, len(c.Detectors)) // nil for a detector that is left out
	for k, d := range c.Detectors {
		if !c.answersAll(k, m.strikes) {
			continue
		}
		scores[k] = make([]Score, len(m.strikes))
		for j, i := range m.strikes {
			scores[k][j] = c.Scores[k][i]
		}
		row := Row{Detector: d.Name, Figures: map[string]Figure{}}
		for _, measure := range Measures() {
			row.Figures[measure.Name] = measure.column(scores[k]).figure(unit, r, o.Level)
		}
		g.Rows = append(g.Rows, row)
	}
	for _, name := range []string{BearingMAE, HeightMAE} {
		measure, _ := MeasureByName(name)
		pairs := comparePairs(measure, c.Detectors, scores, unit, r, o, g.where())
		g.Pairs = append(g.Pairs, pairs...)
		if len(pairs) > 0 && smallestP(units, flipArrangements, len(pairs)) >= 1-o.Level {
			g.TooFewUnits = true
		}
	}
	return g
}

func (c *Comparison) answersAll(detector int, strikes []int) bool {
	for _, i := range strikes {
		if !c.answered[detector][i] {
			return false
		}
	}
	return true
}

// comparePairs compares each detector with the best one by a mean, on the
// strikes that the measure counts.
func comparePairs(m Measure, detectors []DetectorDoc, scores [][]Score, unit []int, r *resampler, o Options, where string) []Pair {
	columns := make([]column, len(scores))
	best, least := -1, math.Inf(1)
	for k := range scores {
		if scores[k] == nil {
			continue
		}
		columns[k] = m.column(scores[k])
		if v, n := m.Of(scores[k]); n > 0 && v < least {
			best, least = k, v
		}
	}
	if best < 0 {
		return nil
	}
	var pairs []Pair
	var p []float64
	for k := range scores {
		if k == best || columns[k].count() == 0 {
			continue
		}
		difference := column{values: make([]float64, len(unit))}
		sums := make([]float64, r.units)
		for i := range unit {
			difference.values[i] = columns[k].values[i] - columns[best].values[i]
			if !math.IsNaN(difference.values[i]) {
				sums[unit[i]] += difference.values[i]
			}
		}
		moved := slices.DeleteFunc(sums, func(x float64) bool { return x == 0 })
		_, rank := Wilcoxon(moved)
		pair := Pair{
			Measure: m.Name, Best: detectors[best].Name, Other: detectors[k].Name,
			Difference: difference.figure(unit, r, o.Level),
			P:          SignFlip(moved, flipArrangements, stream(o.Seed, "signs "+where+m.Name+detectors[k].Name)),
			PWilcoxon:  rank,
		}
		pairs = append(pairs, pair)
		p = append(p, pair.P)
	}
	for k, corrected := range Holm(p) {
		pairs[k].PHolm = corrected
		pairs[k].Distinct = corrected < 1-o.Level
	}
	return pairs
}

// floorOf works out how large mean errors would be if a detector were perfect
// and the labels scattered normally as they say: sqrt(2/pi) standard
// deviations, over the strikes that a label gives a bearing, or a height, for.
func floorOf(strikes []StrikeDoc) Floor {
	perSD := math.Sqrt(2 / math.Pi)
	var f Floor
	var bearings, heights float64
	for _, s := range strikes {
		bearingSD, heightSD := s.Truth.BearingSDDeg, s.Truth.HeightSDM
		if s.Truth.Source == label.Plan {
			f.PlanShare++
			bearingSD, heightSD = label.AimSDDeg, label.AimSDM
		}
		if !math.IsNaN(s.Truth.BearingDeg) {
			f.BearingMAEDeg += perSD * bearingSD
			bearings++
		}
		if !math.IsNaN(s.Truth.HeightM) {
			f.HeightMAEM += perSD * heightSD
			heights++
		}
	}
	f.PlanShare /= float64(len(strikes))
	f.BearingMAEDeg /= max(1, bearings)
	f.HeightMAEM /= max(1, heights)
	switch {
	case f.PlanShare > 0:
		f.Note = fmt.Sprintf("%.0f %% of the labels come from a plan, which says where strikes were aimed: errors are from the middle of the called face and band there; an aim scatter of about %.0f degrees and %.0f cm (common practice, no source) alone makes mean errors of about %.1f degrees and %.1f cm here, and answers that are all face centres and band middles look better than they are: right face and right band are the fairer measures. Stated intervals are about where the glove landed: fewer of a plan's labels than stated lie in one that is right", 100*f.PlanShare, label.AimSDDeg, 100*label.AimSDM, f.BearingMAEDeg, 100*f.HeightMAEM)
	case f.BearingMAEDeg > 0 || f.HeightMAEM > 0:
		f.Note = fmt.Sprintf("by the labels' own stated uncertainty, mean errors below about %.1f degrees and %.1f cm cannot be told from none", f.BearingMAEDeg, 100*f.HeightMAEM)
	default:
		f.Note = "the labels state no uncertainty of their own"
	}
	return f
}
