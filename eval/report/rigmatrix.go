package report

import (
	"fmt"
	"math"
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

// rigMatrixFigures draw how each detector errs on each rig that is left out, the
// best on all of them first; none but where rigs are left out.
func rigMatrixFigures(c *eval.Comparison) []Figure {
	if c.Leave != eval.LeaveRig {
		return nil
	}
	var groups []eval.Group
	var rigs []string
	for _, g := range c.Groups {
		if g.Rig != "" && g.Band == "" && g.Kind == "" {
			groups, rigs = append(groups, g), append(rigs, g.Rig)
		}
	}
	var out []Figure
	for _, x := range []struct {
		measure, words string
		scale          float64
	}{{eval.BearingMAE, "mean bearing error, degrees", 1}, {eval.HeightMAE, "mean height error, cm", 100}} {
		m := rigMatrix{words: x.words, rigs: rigs, scale: x.scale}
		fig := Figure{Name: figureName("rig-to-rig", x.measure), Heads: []string{"detector", "rig_left_out", x.measure, "low", "high"}}
		for _, d := range c.Detectors {
			row, any := make([]eval.Figure, len(groups)), false
			for k, g := range groups {
				row[k] = rowOf(g, d.Name).Figure(x.measure)
				any = any || row[k].Known()
				fig.Rows = append(fig.Rows, []string{d.Name, g.Rig, plain(row[k].Value), plain(row[k].Low), plain(row[k].High)})
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
	c.FillText(textStyle(fontSize, ink, text.XLeft, text.YCenter), vg.Point{X: c.Min.X, Y: c.Max.Y - fontSize}, m.words+", on the rig left out")
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
