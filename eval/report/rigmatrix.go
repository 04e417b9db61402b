package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval"
)

// rigMatrix is a matrix of mean errors by detector and rig left out, each trained
// on all other rigs.
type rigMatrix struct {
	words     string
	rigs      []string
	detectors []string
	err       [][]eval.Figure // [detector][rig]
	scale     float64
}

const (
	matrixName = 14 * fontSize
	matrixCell = 6.5 * fontSize
	matrixRow  = 2 * fontSize
)

// rigMatrixFigures draw how each detector errs on each rig that is left out; none
// where that was not asked for.
func rigMatrixFigures(c *eval.Comparison) []Figure {
	var rigs []string
	for _, l := range c.RigToRig {
		rigs = append(rigs, l.Rig)
	}
	var out []Figure
	for _, x := range []struct {
		measure, words string
		scale          float64
	}{{eval.BearingMAE, "mean bearing error, degrees", 1}, {eval.HeightMAE, "mean height error, cm", 100}} {
		m := rigMatrix{words: x.words, rigs: rigs, scale: x.scale}
		fig := Figure{Name: figureName("rig-to-rig", x.measure), Heads: []string{"detector", "rig_left_out", "rigs_trained_on", x.measure, "low", "high"}}
		for _, d := range c.Detectors {
			row, any := make([]eval.Figure, len(rigs)), false
			for k, l := range c.RigToRig {
				row[k] = rowOf(l.Group, d.Name).Figure(x.measure)
				any = any || row[k].Known()
				fig.Rows = append(fig.Rows, []string{d.Name, l.Rig, strings.Join(l.TrainedOn, " "), plain(row[k].Value), plain(row[k].Low), plain(row[k].High)})
			}
			if any {
				m.detectors, m.err = append(m.detectors, d.Name), append(m.err, row)
			}
		}
		if len(m.detectors) == 0 {
			continue
		}
		fig.Title, fig.paint = m.title(), m.draw
		fig.width, fig.height = matrixName+vg.Length(len(rigs))*matrixCell+fontSize, vg.Length(len(m.detectors))*matrixRow+5.5*fontSize
		out = append(out, fig)
	}
	return out
}

func (m rigMatrix) values() []float64 {
	var out []float64
	for _, row := range m.err {
		for _, f := range row {
			if f.Known() {
				out = append(out, f.Value)
			}
		}
	}
	return out
}

func (m rigMatrix) draw(c draw.Canvas) {
	left, top := c.Min.X+matrixName, c.Max.Y-4.6*fontSize
	c.FillText(textStyle(fontSize, ink, text.XLeft, text.YCenter), vg.Point{X: c.Min.X, Y: c.Max.Y - fontSize}, m.words+", on a rig that was not trained on")
	for k, rig := range m.rigs {
		c.FillText(textStyle(fontSize, ink, text.XCenter, text.YCenter), vg.Point{X: left + (vg.Length(k)+0.5)*matrixCell, Y: top + fontSize}, clip(rig, 11))
	}
	least, most, _ := reach(m.values())
	for i, name := range m.detectors {
		y := top - (vg.Length(i)+0.5)*matrixRow
		c.FillText(textStyle(fontSize, ink, text.XRight, text.YCenter), vg.Point{X: left - 0.6*fontSize, Y: y}, clip(name, 24))
		for k, f := range m.err[i] {
			x := left + vg.Length(k)*matrixCell
			heatCell(c, rectangle(x+0.5, y-matrixRow/2+0.5, x+matrixCell-0.5, y+matrixRow/2-0.5), vg.Point{X: x + matrixCell/2, Y: y}, f.Value, least, most, number(f.Value, m.scale, 1))
		}
	}
}

// title says in words what the matrix shows.
func (m rigMatrix) title() string {
	best, least := "", math.Inf(1)
	for i, row := range m.err {
		sum := 0.0
		for _, f := range row {
			sum += f.Value
		}
		if sum < least { // false where one is not known
			best, least = m.detectors[i], sum
		}
	}
	s := fmt.Sprintf("Matrix of the %s by detector and rig left out (%s)", m.words, strings.Join(m.rigs, ", "))
	if best != "" {
		s += fmt.Sprintf(": %s errs least, %s on the mean of the rigs", best, number(least/float64(len(m.rigs)), m.scale, 1))
	}
	return s
}

// htmlRigToRig is the table of a page: a row a detector, two columns a rig left out.
type htmlRigToRig struct {
	Left []htmlLeft
	Rows []htmlRow
}

type htmlLeft struct{ Rig, TrainedOn, Counts string }

// buildRigToRig lists the errors on rigs left out, below each what the detector
// errs there in this comparison.
func buildRigToRig(c *eval.Comparison) htmlRigToRig {
	var out htmlRigToRig
	for _, l := range c.RigToRig {
		out.Left = append(out.Left, htmlLeft{l.Rig, strings.Join(l.TrainedOn, ", "), countsOf(l.Group)})
	}
	for _, d := range c.Detectors {
		h := htmlRow{Name: d.Name, Kind: d.Kind}
		for _, l := range c.RigToRig {
			for _, x := range []struct {
				measure string
				scale   float64
			}{{eval.BearingMAE, 1}, {eval.HeightMAE, 100}} {
				f := rowOf(l.Group, d.Name).Figure(x.measure)
				cell := htmlCell{Mark: l.Group.Mark(d.Name, x.measure), Value: number(f.Value, x.scale, 1), Interval: interval(f, x.scale, 1)}
				if own := ownFigure(c, l.Rig, d.Name, x.measure); own.Known() && f.Known() && c.Leave != eval.LeaveRig {
					cell.Distance = "trained on: " + number(own.Value, x.scale, 1)
				}
				h.Cells = append(h.Cells, cell)
			}
		}
		if slices.ContainsFunc(h.Cells, func(c htmlCell) bool { return c.Value != "-" }) {
			out.Rows = append(out.Rows, h)
		}
	}
	return out
}

// ownFigure is what a detector errs on a rig in the comparison itself.
func ownFigure(c *eval.Comparison, rig, detector, measure string) eval.Figure {
	for _, g := range c.Groups {
		if g.Rig == rig && g.Band == "" && g.Kind == "" {
			return rowOf(g, detector).Figure(measure)
		}
	}
	return eval.NoFigure()
}

// rigToRigTable writes the same for a terminal, without intervals.
func (t *textWriter) rigToRigTable() {
	left := t.c.RigToRig
	if t.c.Leave == eval.LeaveRig {
		return // the tables above are of rigs left out
	}
	const perTable = 4
	for len(left) > 0 {
		part := left[:min(perTable, len(left))]
		left = left[len(part):]
		t.line("")
		t.line("mean errors on a rig left out with all its revisions")
		heads, units := strings.Repeat(" ", nameWidth), strings.Repeat(" ", nameWidth)
		for _, l := range part {
			t.wrap(fmt.Sprintf("%s: trained on %s; %s", l.Rig, strings.Join(l.TrainedOn, ", "), countsOf(l.Group)), "  ")
			heads += fmt.Sprintf("%15s", clip(l.Rig, 13))
			units += fmt.Sprintf("%8s%7s", "deg", "cm")
		}
		t.line("%s", heads)
		t.line("%s", units)
		for _, d := range t.c.Detectors {
			line := ""
			for _, l := range part {
				b, h := rowOf(l.Group, d.Name).Figure(eval.BearingMAE), rowOf(l.Group, d.Name).Figure(eval.HeightMAE)
				line += fmt.Sprintf(" %1s%6s %1s%5s", l.Group.Mark(d.Name, eval.BearingMAE), number(b.Value, 1, 1), l.Group.Mark(d.Name, eval.HeightMAE), number(h.Value, 100, 1))
			}
			t.line("%s%s", t.name(d.Name), line)
		}
	}
}
