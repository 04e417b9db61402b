package report

import (
	"cmp"
	"math"
	"slices"

	"strikerose/eval"
)

// drawnDetectors is how many detectors of each rig are drawn where nobody chooses;
// the tables hold all.
const drawnDetectors = 4

// Choice names the detectors of which roses, errors, heights, confusions and
// certainty are drawn. None is those of each rig that err least; DrawAll is these
// and, folded below them, all others.
type Choice []string

// DrawAll stands for every detector in a Choice.
const DrawAll = "all"

// parts lists, by position in the comparison, the detectors of a group that are
// drawn and those that are folded below them, the best first.
func (k Choice) parts(c *eval.Comparison, g eval.Group) (open, folded []int) {
	ranked := byWorth(c, g)
	few := min(drawnDetectors, len(ranked))
	switch {
	case len(k) == 0:
		return ranked[:few], nil
	case slices.Contains(k, DrawAll):
		return ranked[:few], ranked[few:]
	}
	return slices.DeleteFunc(ranked, func(d int) bool { return !slices.Contains(k, c.Detectors[d].Name) }), nil
}

// all lists both.
func (k Choice) all(c *eval.Comparison, g eval.Group) []int {
	open, folded := k.parts(c, g)
	return slices.Concat(open, folded)
}

// byWorth lists, by position in the comparison, the detectors of a group that give
// bearings, those that err least first, bearing and height counted alike relative
// to the least of each. One that tells no height counts as if it erred three times
// the least there.
func byWorth(c *eval.Comparison, g eval.Group) []int {
	const noHeight = 3
	least := map[string]float64{eval.BearingMAE: math.Inf(1), eval.HeightMAE: math.Inf(1)}
	for measure := range least {
		for _, r := range g.Rows {
			if f := r.Figure(measure); f.Known() {
				least[measure] = math.Min(least[measure], math.Max(f.Value, 1e-9))
			}
		}
	}
	worth := func(r eval.Row) float64 {
		height := noHeight + 0.0
		if f := r.Figure(eval.HeightMAE); f.Known() {
			height = f.Value / least[eval.HeightMAE]
		}
		return r.Figure(eval.BearingMAE).Value/least[eval.BearingMAE] + height
	}
	rows := slices.DeleteFunc(slices.Clone(g.Rows), func(r eval.Row) bool { return !r.Figure(eval.BearingMAE).Known() })
	slices.SortStableFunc(rows, func(a, b eval.Row) int { return cmp.Compare(worth(a), worth(b)) })
	var out []int
	for _, r := range rows {
		out = append(out, slices.IndexFunc(c.Detectors, func(d eval.DetectorDoc) bool { return d.Name == r.Detector }))
	}
	return out
}

// wholeRigs lists the groups of all strikes of one rig each.
func wholeRigs(c *eval.Comparison) []eval.Group {
	several := len(rigsOf(c)) > 1
	var out []eval.Group
	for _, g := range c.Groups {
		if g.Band == "" && g.Kind == "" && !(several && g.Rig == "") {
			out = append(out, g)
		}
	}
	return out
}

// Figures lists every figure of a comparison, in the order of the page with this
// choice of detectors.
func Figures(c *eval.Comparison, choice Choice) []Figure {
	var out []Figure
	for _, g := range wholeRigs(c) {
		s := sectionOf(c, g)
		if s.faces == 0 {
			continue
		}
		out = append(out, bagMapFigure(s))
		for _, k := range choice.all(c, g) {
			name := c.Detectors[k].Name
			row := rowOf(g, name)
			out = append(out, roseFigure(s, k, row))
			out = append(out, aroundFigures(s, k)...)
			out = append(out, sideFigures(s, k, row)...)
			for _, x := range s.mixed(k) {
				out = append(out, x.figure(figureName("confusion", x.Of, g.Rig, name), "Confusion of "+x.Of+" "+s.of(name)+": "+x.rightWords()))
			}
			if f, ok := heightFigure(s, k, row); ok {
				out = append(out, f)
			}
		}
	}
	for _, s := range c.Sensitivity {
		out = append(out, levelFigures(s)...)
	}
	for _, d := range drawnCertainty(c, choice.all(c, c.Groups[0])) {
		out = append(out, certaintyFigures(d)...)
	}
	for _, l := range c.Learning {
		for _, chart := range learningCharts(l) {
			out = append(out, chart.figure())
		}
	}
	for _, g := range wholeRigs(c) {
		out = append(out, costFigures(g)...)
	}
	out = append(out, rigMatrixFigures(c)...)
	worst := worstFigures(c)
	for k := range c.Worst {
		if f, ok := worst[k]; ok {
			out = append(out, f)
		}
	}
	return out
}
