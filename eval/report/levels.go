package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/eval"
)

// levelChart is a chart of mean errors with their intervals, a line for each level
// of each factor.
type levelChart struct {
	s     eval.Sensitivity
	words string
	of    func(eval.Level) eval.Figure
	scale float64
}

const levelLine = 1.45 * fontSize

// lines counts the lines of the chart: one a level, and one with a space a factor.
func (l levelChart) lines() (n float64) {
	for _, f := range l.s.Factors {
		n += float64(len(f.Levels)) + 1.45
	}
	return n
}

func (l levelChart) most() float64 {
	most := 0.0
	for _, f := range l.s.Factors {
		for _, level := range f.Levels {
			fig := l.of(level)
			if !fig.Known() {
				continue
			}
			// One interval that reaches far must not squeeze all others.
			most = math.Max(most, math.Max(fig.Value*1.15, math.Min(fig.High, 2*fig.Value)))
		}
	}
	return l.scale * most
}

// apart says in words of which factor the levels lie furthest apart.
func (l levelChart) apart() string {
	words, ratio := "", 1.0
	for _, f := range l.s.Factors {
		var least, most *eval.Level
		for k := range f.Levels {
			switch level := &f.Levels[k]; {
			case !(l.of(*level).Value > 0):
			case least == nil:
				least, most = level, level
			case l.of(*level).Value < l.of(*least).Value:
				least = level
			case l.of(*level).Value > l.of(*most).Value:
				most = level
			}
		}
		if least == nil {
			continue
		}
		low, high := l.of(*least).Value, l.of(*most).Value
		if high/low > ratio {
			ratio = high / low
			words = fmt.Sprintf("; furthest apart by %s: %s where %s, %s where %s", f.Name, number(low, l.scale, 1), least.Name, number(high, l.scale, 1), most.Name)
		}
	}
	return words
}

func (l levelChart) draw(c draw.Canvas) {
	f := newFrame(c, linear(0, l.most()), linear(0, 1))
	f.left = c.Min.X + 10*fontSize
	f.up(l.words, nil, nil)
	ticks := roundTicks(0, l.most())
	for _, t := range ticks {
		c.StrokeLine2(line(faint, 0.4), f.at(t, 0).X, f.bottom, f.at(t, 0).X, f.top)
	}
	f.along("mean, with its interval", ticks, short)
	y := f.top - 0.75*levelLine
	for k, factor := range l.s.Factors {
		if k > 0 {
			c.StrokeLine2(line(faint, 0.4), c.Min.X, y+0.95*levelLine, f.right, y+0.95*levelLine)
		}
		c.FillText(textStyle(0.9*fontSize, ink, text.XLeft, text.YCenter), vg.Point{X: c.Min.X, Y: y}, factor.Name)
		y -= levelLine
		for _, level := range factor.Levels {
			c.FillText(textStyle(0.85*fontSize, ink, text.XRight, text.YCenter), vg.Point{X: f.left - 0.5*fontSize, Y: y}, level.Name)
			fig := l.of(level)
			if fig.HasInterval() {
				c.StrokeLine2(line(ink, 1), f.at(l.scale*fig.Low, 0).X, y, f.at(l.scale*fig.High, 0).X, y)
				if l.scale*fig.High > l.most() {
					onward(c, vg.Point{X: f.right, Y: y})
				}
			}
			if fig.Known() {
				marks(c, right, 2.6, []vg.Point{{X: f.at(l.scale*fig.Value, 0).X, Y: y}})
			}
			y -= levelLine
		}
		y -= 0.45 * levelLine
	}
	f.border()
}

// onward is the head of an arrow to the right, for what goes on beyond a drawing.
func onward(c draw.Canvas, at vg.Point) {
	const size = 0.35 * fontSize
	c.StrokeLine2(line(ink, 1), at.X-size, at.Y-size, at.X, at.Y)
	c.StrokeLine2(line(ink, 1), at.X-size, at.Y+size, at.X, at.Y)
}

// levelFigures draw what the errors of one rig depend on.
func levelFigures(s eval.Sensitivity) []Figure {
	var out []Figure
	for _, x := range []struct {
		detector, measure, words string
		of                       func(eval.Level) eval.Figure
		scale                    float64
	}{
		{s.Bearing, eval.BearingMAE, "bearing error, degrees", func(l eval.Level) eval.Figure { return l.Bearing }, 1},
		{s.Height, eval.HeightMAE, "height error, cm", func(l eval.Level) eval.Figure { return l.Height }, 100},
	} {
		if x.detector == "" {
			continue
		}
		chart := levelChart{s: s, words: x.words, of: x.of, scale: x.scale}
		if !(chart.most() > 0) {
			continue
		}
		fig := Figure{Name: figureName("depends", x.measure, s.Rig), Title: fmt.Sprintf("Mean %s of %s by what strikes differ in", x.words, x.detector),
			Heads: []string{"factor", "level", "strikes", "detector", x.measure, "low", "high"},
			width: 270, height: vg.Length(chart.lines())*levelLine + 6.2*fontSize, paint: chart.draw}
		if s.Rig != "" {
			fig.Title += ", rig " + s.Rig
		}
		fig.Title += chart.apart()
		for _, f := range s.Factors {
			for _, l := range f.Levels {
				v := x.of(l)
				fig.Rows = append(fig.Rows, []string{f.Name, l.Name, fmt.Sprint(l.Strikes), x.detector, plain(v.Value), plain(v.Low), plain(v.High)})
			}
		}
		out = append(out, fig)
	}
	return out
}
