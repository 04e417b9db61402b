package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval"
)

// heightChart is a chart of the heights that a detector answers against the true
// ones, with the edges of the bands and the dead height.
type heightChart struct {
	section section
	points  []heightPoint
}

type heightPoint struct {
	strike        int // position in the comparison
	trueM, givenM float64
	role          role
}

func newHeightChart(s section, detector int) heightChart {
	h := heightChart{section: s}
	for _, i := range s.strikes {
		score, truth := s.c.Scores[detector][i], s.c.Strikes[i].Truth.HeightM
		if !math.IsNaN(score.HeightErrM) && !math.IsNaN(truth) {
			h.points = append(h.points, heightPoint{i, truth, truth + score.HeightErrM, bandRole(score.RightBand)})
		}
	}
	return h
}

func (h heightChart) draw(c draw.Canvas) {
	scale := linear(0, h.section.lengthM)
	f := newFrame(c, scale, scale)
	var ticks []float64
	for v := 0.0; v <= h.section.lengthM; v += 0.25 {
		ticks = append(ticks, v)
	}
	f.up("height answered, m", ticks, short)
	f.along("true height, m", ticks, short)
	for _, b := range h.section.bands { // the squares of right bands
		from, to := f.at(b.fromM, b.fromM), f.at(b.toM, b.toM)
		c.SetColor(shade.colour())
		c.Fill(rectangle(from.X, from.Y, to.X, to.Y))
		c.FillText(textStyle(0.85*fontSize, ink, text.XLeft, text.YTop), vg.Point{X: from.X + 0.3*fontSize, Y: to.Y - 0.2*fontSize}, b.name)
	}
	low, high := f.at(0, 0), f.at(h.section.lengthM, h.section.lengthM)
	c.StrokeLine2(line(ink, 0.6), low.X, low.Y, high.X, high.Y)
	at := map[role][]vg.Point{}
	for _, p := range h.points {
		at[p.role] = append(at[p.role], f.at(p.trueM, p.givenM))
	}
	byMark(c, 1.4, at)
	for _, m := range h.section.deadM {
		x := f.at(m, 0).X
		c.StrokeLine2(line(ink, 1, 4, 2), x, f.bottom, x, f.top)
		c.FillText(textStyle(0.85*fontSize, ink, text.XLeft, text.YBottom), vg.Point{X: x + 0.3*fontSize, Y: f.bottom + 0.2*fontSize}, "dead height")
	}
	f.border()
}

func heightFigure(s section, detector int, row eval.Row) (Figure, bool) {
	name := s.c.Detectors[detector].Name
	h := newHeightChart(s, detector)
	fig := Figure{Name: figureName("heights", s.group.Rig, name), Heads: strikeHeads("true_height_m", "answered_height_m"), width: 170, height: 170, paint: h.draw,
		Title: fmt.Sprintf("Heights answered against true heights %s: %s cm off on average%s", s.of(name), number(row.Figure(eval.HeightMAE).Value, 100, 1), s.deadWords())}
	for _, p := range h.points {
		fig.Rows = append(fig.Rows, s.strikeRow(p.strike, p.trueM, p.givenM))
	}
	return fig, len(h.points) > 0
}

// deadWords says in a drawing's title where the dead height lies.
func (s section) deadWords() string {
	out := ""
	for _, m := range s.deadM {
		out += fmt.Sprintf("; dead height at %.2f m", m)
	}
	return out
}
