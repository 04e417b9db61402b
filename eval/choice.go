package eval

import (
	"cmp"
	"math"
	"slices"

	"strikerose/label"
)

// Choice is what a person needs to pick a detector for a board: what each
// costs, which are not worth it, and how they stand to what is asked.
type Choice struct {
	Costs   []DetectorCost `json:"costs"`             // what each detector costs, in the order of the group's rows
	Verdict *Verdict       `json:"verdict,omitempty"` // which detector to take; absent where the labels cannot judge faces and bands
}

// choose fills in the choice of the groups of all strikes and of whole rigs.
func (c *Comparison) choose(o Options) {
	if o.Goal.WithinMs == 0 {
		o.Goal.WithinMs = o.WithinMs
	}
	for k, m := range c.groups() {
		g := &c.Groups[k]
		if m.Band != "" || m.Kind != "" || len(g.Rows) == 0 {
			continue
		}
		g.Choice = &Choice{Costs: c.costsOf(m, o)}
		markBeaten(g.Choice.Costs, g.Rows)
		g.Choice.Verdict = c.judge(m, g, o)
	}
}

// BestTwo names the two detectors that err least on all strikes, bearing and
// height counted alike relative to the least of each, of those that give both;
// fewer where there are not as many.
func (c *Comparison) BestTwo() []string {
	rows := c.Groups[0].Rows
	least := func(measure string) float64 {
		out := math.Inf(1)
		for _, r := range rows {
			if f := r.Figure(measure); f.Known() {
				out = math.Min(out, f.Value)
			}
		}
		return math.Max(out, 1e-9)
	}
	b, h := least(BearingMAE), least(HeightMAE)
	both := slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return !r.Figure(BearingMAE).Known() || !r.Figure(HeightMAE).Known() })
	worth := func(r Row) float64 { return r.Figure(BearingMAE).Value/b + r.Figure(HeightMAE).Value/h }
	slices.SortStableFunc(both, func(x, y Row) int { return cmp.Compare(worth(x), worth(y)) })
	var names []string
	for _, r := range both[:min(2, len(both))] {
		names = append(names, r.Detector)
	}
	return names
}

// costsOf lists what the detectors of a group cost at most on its strikes.
func (c *Comparison) costsOf(m members, o Options) []DetectorCost {
	var out []DetectorCost
	for k, d := range c.Detectors {
		if !c.answersAll(k, m.strikes) {
			continue
		}
		cost := c.costs[k][m.strikes[0]]
		for _, i := range m.strikes {
			cost = dearest(cost, c.costs[k][i])
		}
		if measured, ok := o.Measured[d.Name]; ok {
			cost.Measured = &measured
		}
		out = append(out, DetectorCost{Detector: d.Name, Cost: cost})
	}
	return out
}

// aims tells whether most strikes are scored against a plan, which does not say
// where they landed.
func (c *Comparison) aims(strikes []int) bool {
	plans := 0
	for _, i := range strikes {
		if c.Strikes[i].Truth.Source == label.Plan {
			plans++
		}
	}
	return 2*plans > len(strikes)
}
