package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"strikerose/eval"
)

// learningTables writes how errors fall with the number of labels, a table a
// rig and detector, and what that says of further ones.
func (t *textWriter) learningTables() {
	for _, l := range t.c.Learning {
		t.line("")
		t.line("learning, %s on rig %s: %s left out in turn, %s", l.Detector, l.Rig, plural(l.Sessions, "session"), plural(l.Draws, "draw"))
		for _, row := range learningRows(l) {
			line := fmt.Sprintf("%-20s", row.name)
			for _, cell := range row.cells {
				line += fmt.Sprintf("%6s", cell)
			}
			t.line("%s", line)
		}
		for _, s := range learningWords(l) {
			t.wrap(s, "  ")
		}
	}
}

type learningRow struct {
	name  string
	cells []string
}

func learningRows(l eval.LearningCurve) []learningRow {
	rows := []learningRow{{name: "labels"}, {name: "bearing error, deg"}, {name: "height error, cm"}, {name: "faces at 95 %"}, {name: "bands at 95 %"}}
	for _, p := range l.Points {
		for i, cell := range []string{fmt.Sprint(p.Labels), number(p.Bearing.Value, 1, 1), number(p.Height.Value, 100, 1), finely(p.Faces), finely(p.Bands)} {
			rows[i].cells = append(rows[i].cells, cell)
		}
	}
	return rows
}

// learningWords say what a curve tells of the labels that there are and of
// another hundred.
func learningWords(l eval.LearningCurve) []string {
	var out []string
	for _, x := range []struct {
		fit   eval.LearningFit
		what  string
		unit  string
		scale float64
	}{{l.Bearing, "bearing", "deg", 1}, {l.Height, "height", "cm", 100}} {
		if !x.fit.Known() {
			continue
		}
		out = append(out, fmt.Sprintf("%s: another %d strikes to the %d there are would bring %s -> %s %s %s; %s strikes %s come within a tenth of the error with the most.",
			x.what, eval.MoreLabels, l.Labels, number(x.fit.Now.Value, x.scale, 2), number(x.fit.More.Value, x.scale, 2), x.unit, interval(x.fit.More, x.scale, 2),
			number(x.fit.Enough.Value, 1, 0), interval(x.fit.Enough, 1, 0)))
	}
	asked := fmt.Sprintf("%s and %s", plural(l.Goal.Faces, "face"), plural(l.Goal.Bands, "band"))
	if l.GoalLabels > 0 {
		out = append(out, fmt.Sprintf("%s were met from %d strikes on.", asked, l.GoalLabels))
	} else {
		out = append(out, fmt.Sprintf("%s were not met with any number of strikes tried.", asked))
	}
	return out
}

// htmlLearning is one curve of a page.
type htmlLearning struct {
	Title, How string
	Words      []string
	Charts     []template.HTML
	Rows       []htmlRow
}

func buildLearning(c *eval.Comparison) ([]htmlLearning, error) {
	var out []htmlLearning
	for _, l := range c.Learning {
		h := htmlLearning{Title: l.Detector + " on rig " + l.Rig, How: fmt.Sprintf("%s, %s", plural(l.Sessions, "session"), plural(l.Draws, "draw")), Words: unbroken(learningWords(l))}
		for _, chart := range learningCharts(l) {
			drawing, err := drawn(chart.figure())
			if err != nil {
				return nil, err
			}
			h.Charts = append(h.Charts, drawing...)
		}
		for _, r := range learningRows(l) {
			row := htmlRow{Name: r.name}
			for _, cell := range r.cells {
				row.Cells = append(row.Cells, htmlCell{Value: cell})
			}
			h.Rows = append(h.Rows, row)
		}
		out = append(out, h)
	}
	return out, nil
}

// learningNote says how the curves were made; "" without any.
func learningNote(c *eval.Comparison) string {
	if len(c.Learning) == 0 {
		return ""
	}
	return "Learning: trained on so many labelled strikes of the rig, drawn evenly over faces and bands, and scored on whole sessions left out in turn. The fit is a + b n^-c through the last point, weighted; intervals resample strikes in blocks or sessions as well as draws. Beyond the labels that there are it is carried on, not measured."
}

// learningChart is what is drawn of one curve and measure.
type learningChart struct {
	curve   eval.LearningCurve
	fit     eval.LearningFit
	point   func(eval.LearningPoint) eval.Figure
	measure string
	scale   float64
	words   string
}

func learningCharts(l eval.LearningCurve) []learningChart {
	charts := []learningChart{
		{l, l.Bearing, func(p eval.LearningPoint) eval.Figure { return p.Bearing }, eval.BearingMAE, 1, "mean bearing error, degrees"},
		{l, l.Height, func(p eval.LearningPoint) eval.Figure { return p.Height }, eval.HeightMAE, 100, "mean height error, cm"},
	}
	var out []learningChart
	for _, c := range charts {
		if c.point(l.Points[0]).Known() {
			out = append(out, c)
		}
	}
	return out
}

// title says in words what the chart shows.
func (c learningChart) title() string {
	var parts []string
	for _, p := range c.curve.Points {
		parts = append(parts, fmt.Sprintf("%s with %d", number(c.point(p).Value, c.scale, 1), p.Labels))
	}
	return fmt.Sprintf("Chart of the %s of %s on rig %s by labelled strikes: %s", c.words, c.curve.Detector, c.curve.Rig, strings.Join(parts, ", "))
}

// reach is the range of the axes: labels up to those of the last forecast, and
// errors.
func (c learningChart) reach() (from, to, low, high float64) {
	from, to = float64(c.curve.Points[0].Labels), float64(c.curve.Labels+eval.MoreLabels)
	low, high = math.Inf(1), 0
	for _, p := range c.curve.Points {
		f := c.point(p)
		low, high = math.Min(low, f.Value), math.Max(high, f.Value)
		if f.HasInterval() {
			low, high = math.Min(low, f.Low), math.Max(high, f.High)
		}
	}
	if c.fit.Known() && c.fit.More.HasInterval() {
		low = math.Min(low, c.fit.More.Low)
	}
	return from, to, c.scale * low, c.scale * high
}
