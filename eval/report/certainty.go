package report

import (
	"fmt"
	"html/template"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval"
)

// certaintyLevels are the stated levels that the tables show.
var certaintyLevels = [...]float64{0.5, 0.8, 0.9, 0.95, 0.99}

// certaintyShares are the shares answered that the tables show.
var certaintyShares = [...]float64{1, 0.9, 0.8, 0.5}

// certaintyTables write, for each rig, how many strikes lie in the intervals of
// several stated levels, and how many faces stay wrong where the least sure
// strikes are not answered; then the cover of the 90 % intervals by band and
// kind.
func (t *textWriter) certaintyTables() {
	for _, rig := range certaintyRigs(t.c) {
		t.line("")
		t.line("%sstated certainty against what was found", prefixOf(rig))
		t.line("%*s%-40s%s", nameWidth, "", " bearing/height in what should hold", "  wrong face, %, surest")
		head := fmt.Sprintf("%*s", nameWidth, "")
		for _, level := range certaintyLevels {
			head += fmt.Sprintf("%8s", number(level, 100, 0)+" %")
		}
		head += "  "
		for _, share := range certaintyShares {
			head += fmt.Sprintf("%5s", number(share, 100, 0)+" %")
		}
		t.line("%s", head)
		for _, d := range t.c.Detectors {
			doc := t.c.CertaintyOf(d.Name, rig)
			if doc == nil {
				continue
			}
			row := ""
			for _, level := range certaintyLevels {
				row += fmt.Sprintf("%8s", foundAt(doc.Bearing, level)+"/"+foundAt(doc.Height, level))
			}
			row += "  "
			for _, share := range certaintyShares {
				cell := "-"
				if doc.WrongFace != nil {
					cell = number(doc.WrongFace.At(share), 100, 1)
				}
				row += fmt.Sprintf("%5s", cell)
			}
			t.line("%s%s", t.name(d.Name), row)
		}
	}
	for _, rig := range rigsOf(t.c) {
		t.breakdown(rig, "bearing_cover90_share", "bearing in its 90 % interval, %", wholePercent)
		t.breakdown(rig, "height_cover90_share", "height in its 90 % interval, %", wholePercent)
	}
}

func wholePercent(f eval.Figure) string { return number(f.Value, 100, 0) }

// certaintyRigs lists the rigs that certainty is told of, "" for all.
func certaintyRigs(c *eval.Comparison) []string {
	var out []string
	seen := map[string]bool{}
	for _, d := range c.Certainty {
		if !seen[d.Rig] {
			seen[d.Rig] = true
			out = append(out, d.Rig)
		}
	}
	return out
}

func prefixOf(rig string) string {
	if rig == "" {
		return ""
	}
	return rig + ": "
}

// foundAt is the share found at a stated level, in percent; "-" of none.
func foundAt(all []eval.Reliability, level float64) string {
	for _, r := range all {
		if r.Level == level {
			return number(r.Found, 100, 0)
		}
	}
	return "-"
}

// htmlCertainty is what a page shows of one detector's certainty on all strikes.
type htmlCertainty struct {
	Title  string
	Words  string
	Charts []template.HTML
}

// drawnCertainty lists the certainty of some detectors on all strikes. The tables
// of the text tell of each and of each rig.
func drawnCertainty(c *eval.Comparison, detectors []int) []eval.CertaintyDoc {
	var out []eval.CertaintyDoc
	for _, k := range detectors {
		if d := c.CertaintyOf(c.Detectors[k].Name, ""); d != nil {
			out = append(out, *d)
		}
	}
	return out
}

// certaintyFigures draw how honest one detector's certainty is.
func certaintyFigures(d eval.CertaintyDoc) []Figure {
	var out []Figure
	for _, chart := range []certaintyChart{reliabilityChart(d), riskChart(d)} {
		if len(chart.lines) == 0 {
			continue
		}
		f := Figure{Name: figureName(chart.name, d.Rig, d.Detector), Title: chart.title + ": " + d.Detector + chart.finding, Heads: []string{"of", chart.heads[0], chart.heads[1]}, width: 250, height: 170, paint: chart.draw}
		for _, l := range chart.lines {
			for _, p := range l.points {
				f.Rows = append(f.Rows, []string{l.of, plain(p[0]), plain(p[1])})
			}
		}
		out = append(out, f)
	}
	return out
}

func buildCertainty(c *eval.Comparison, detectors []int) ([]htmlCertainty, error) {
	var out []htmlCertainty
	for _, d := range drawnCertainty(c, detectors) {
		h := htmlCertainty{Title: d.Detector}
		if r := d.WrongFace; r != nil {
			h.Words = fmt.Sprintf("On a wrong face: %s %% of all strikes, %s %% of the surest four fifths; area under the curve %s %% (%s %% if it knew, %s %% in random order).",
				number(r.At(1), 100, 1), number(r.At(0.8), 100, 1), number(r.Area, 100, 1), number(r.Least, 100, 1), number(r.Unsorted, 100, 1))
		}
		var err error
		if h.Charts, err = drawn(certaintyFigures(d)...); err != nil {
			return nil, err
		}
		out = append(out, h)
	}
	return out, nil
}

// certaintyChart is lines in a square of shares: along from 0 to 1, up from 0
// to most.
type certaintyChart struct {
	name         string    // of the figure
	heads        [2]string // of its numbers
	title, along string
	most         float64
	even         bool // draw the diagonal that an honest certainty follows
	lines        []certaintyLine
	finding      string // in words
}

type certaintyLine struct {
	of     string
	dashes []vg.Length
	points [][2]float64
}

// reliabilityChart draws what was found against what was stated, the bearing's
// whole, the height's dashed.
func reliabilityChart(d eval.CertaintyDoc) certaintyChart {
	c := certaintyChart{name: "reliability", heads: [2]string{"stated", "found"}, title: "found against stated, %", along: "stated, %: bearing whole, height dashed", most: 1, even: true}
	for i, all := range [][]eval.Reliability{d.Bearing, d.Height} {
		l := certaintyLine{of: []string{"bearing", "height"}[i], points: [][2]float64{{0, 0}}}
		if i == 1 {
			l.dashes = []vg.Length{3, 2}
		}
		for _, r := range all {
			l.points = append(l.points, [2]float64{r.Level, r.Found})
		}
		if len(all) > 0 {
			c.lines = append(c.lines, l)
			c.finding += fmt.Sprintf("; of the %s %s in what should hold 90", l.of, foundAt(all, 0.9))
		}
	}
	return c
}

// riskChart draws the share of wrong faces against the share answered.
func riskChart(d eval.CertaintyDoc) certaintyChart {
	c := certaintyChart{name: "risk-coverage", heads: [2]string{"answered", "wrong_face"}, title: "wrong face, %", along: "answered, surest first, %", most: 0.02}
	if d.WrongFace == nil {
		return c
	}
	l := certaintyLine{of: "face"}
	for _, p := range d.WrongFace.Points {
		l.points = append(l.points, [2]float64{p.Answered, p.Risk})
		for c.most < p.Risk {
			c.most = min(2*c.most, 1)
		}
	}
	c.lines = append(c.lines, l)
	c.finding = fmt.Sprintf("; %s of all strikes, %s of the surest four fifths", number(d.WrongFace.At(1), 100, 1), number(d.WrongFace.At(0.8), 100, 1))
	return c
}

func (c certaintyChart) draw(canvas draw.Canvas) {
	left, end := canvas.Min.X+3.2*fontSize, canvas.Max.X-1.5*fontSize
	bottom, top := canvas.Min.Y+3.6*fontSize, canvas.Max.Y-2*fontSize
	at := func(x, y float64) vg.Point {
		return vg.Point{X: left + (end-left)*vg.Length(x), Y: bottom + (top-bottom)*vg.Length(y/c.most)}
	}
	tick := textStyle(0.85*fontSize, ink, text.XRight, text.YCenter)
	for k := range 5 {
		share := float64(k) / 4
		canvas.StrokeLine2(line(faint, 0.5), left, at(0, share*c.most).Y, end, at(0, share*c.most).Y)
		canvas.FillText(tick, vg.Point{X: left - 0.4*fontSize, Y: at(0, share*c.most).Y}, fmt.Sprintf("%.3g", 100*share*c.most))
	}
	tick.XAlign, tick.YAlign = text.XCenter, text.YTop
	for k := range 5 {
		share := float64(k) / 4
		canvas.FillText(tick, vg.Point{X: at(share, 0).X, Y: bottom - 0.5*fontSize}, fmt.Sprintf("%.3g", 100*share))
	}
	canvas.FillText(tick, vg.Point{X: (left + end) / 2, Y: bottom - 1.9*fontSize}, c.along)
	canvas.FillText(textStyle(fontSize, ink, text.XLeft, text.YBottom), vg.Point{X: left, Y: canvas.Max.Y - 1.2*fontSize}, c.title)
	if c.even {
		from, to := at(0, 0), at(1, 1)
		canvas.StrokeLine2(line(ink, 0.5), from.X, from.Y, to.X, to.Y)
	}
	for _, l := range c.lines {
		var points []vg.Point
		for _, p := range l.points {
			points = append(points, at(p[0], p[1]))
		}
		canvas.StrokeLines(line(right, 1.4, l.dashes...), points)
	}
	canvas.SetLineStyle(line(ink, 1))
	canvas.Stroke(rectangle(left, bottom, end, top))
}
