package traces

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/label/truth"
)

// columns is how many stretches of time an overview tells apart.
const columns = 900

// Recording is a session as it is drawn.
type Recording struct {
	Session dataset.Session
	Rig     *rig.Rig
	Signal  *dataset.Signal
	Strikes []dataset.Strike
	Labels  []Label // standing ones, in order of time
}

// Label is what is said of a moment of a session.
type Label struct {
	OnsetNs  int64
	Face     int  // 0 unknown
	NotThere bool // it was no strike
}

// envelope is the least and most of a value in each column of time.
type envelope struct{ x, low, high []float64 }

// envelopes finds, by segment, those of the horizontal and the vertical
// specific force, m/s2, in the bag's frame, over seconds.
func (r *Recording) envelopes() (horizontal, vertical []envelope) {
	turn := r.Rig.AccelTurn()
	width := max(r.seconds()/columns, 1e-9)
	for _, segment := range r.Signal.Segments() {
		var h, v envelope
		last := -1
		for i := segment.Start; i < segment.End; i++ {
			x := r.Signal.At(i)
			f := turn.Bag(x.A)
			if column := int(float64(x.TNs) / 1e9 / width); column != last {
				for _, e := range []*envelope{&h, &v} {
					e.x = append(e.x, float64(x.TNs)/1e9)
					e.low, e.high = append(e.low, math.Inf(1)), append(e.high, math.Inf(-1))
				}
				last = column
			}
			h.add(math.Hypot(f[0], f[1]))
			v.add(f[2])
		}
		horizontal, vertical = append(horizontal, h), append(vertical, v)
	}
	return horizontal, vertical
}

func (e *envelope) add(v float64) {
	k := len(e.x) - 1
	e.low[k], e.high[k] = min(e.low[k], v), max(e.high[k], v)
}

func (r *Recording) seconds() float64 {
	return float64(r.Signal.TNs[r.Signal.Len()-1]) / 1e9
}

// breaks are the ends of segments: restarts of the board, and gaps.
func (r *Recording) breaks() (restarts []float64, gaps []span) {
	starts := map[int64]bool{}
	for _, e := range truth.Epochs(r.Signal, r.Session.RawPerSecond) {
		starts[e.StartNs] = true
	}
	segments := r.Signal.Segments()
	for i := 1; i < len(segments); i++ {
		from, to := r.Signal.TNs[segments[i-1].End-1], r.Signal.TNs[segments[i].Start]
		if starts[to] {
			restarts = append(restarts, float64(to)/1e9)
		} else {
			gaps = append(gaps, span{float64(from) / 1e9, float64(to) / 1e9})
		}
	}
	return restarts, gaps
}

// Overview draws a whole session: the envelopes of horizontal and vertical
// specific force, strikes, labels, gaps and restarts. The signal must not be
// empty.
func Overview(r Recording) Picture {
	horizontal, vertical := r.envelopes()
	restarts, gaps := r.breaks()
	const width, height = 960, 400
	return Picture{
		Title: fmt.Sprintf("Session %s on rig %s", r.Session.Name, r.Rig.Key()),
		About: fmt.Sprintf("%.0f seconds of specific force, horizontal and vertical: %d strikes found, %d labels, %d gaps, %d restarts of the board.",
			r.seconds(), len(r.Strikes), len(r.Labels), len(gaps), len(restarts)),
		width: width, height: height,
		paint: func(c draw.Canvas) {
			x := span{0, max(r.seconds(), 1e-3)}
			panels := stack(c, width, height, x, 1, 2.6, 2)
			marks, h, v := panels[0], panels[1], panels[2]
			h.y, v.y = spanOfAll(horizontal), spanOfAll(vertical)
			for _, p := range panels {
				for _, g := range gaps { // thin ones too are seen
					p.band(gapShade, g.low, max(g.high, g.low+x.high/600))
					p.upright(stroke(orange, 0.6), g.low, "")
				}
			}
			r.marks(marks)
			h.axes("", "horizontal, m/s²")
			v.axes("seconds from the first sample", "vertical, m/s²")
			for i, e := range horizontal {
				h.fillBetween(e, blue)
				v.fillBetween(vertical[i], green)
			}
			for _, p := range panels {
				for _, t := range restarts {
					p.upright(stroke(orange, 1.2, 4, 2), t, "")
				}
				p.frame()
			}
			var legend []entry
			if len(gaps) > 0 {
				legend = append(legend, entry{fmt.Sprintf("gap (%d)", len(gaps)), stroke(gapShade, 6)})
			}
			if len(restarts) > 0 {
				legend = append(legend, entry{fmt.Sprintf("restart (%d)", len(restarts)), stroke(orange, 1.2, 4, 2)})
			}
			marks.key(legend...)
		},
	}
}

func spanOfAll(all []envelope) span {
	var values [][]float64
	for _, e := range all {
		values = append(values, e.low, e.high)
	}
	return spanOf(values...)
}

// fillBetween fills from the least to the most, with a thin edge, so that quiet
// stretches are seen.
func (p panel) fillBetween(e envelope, c color.Color) {
	var path vg.Path
	for i := range e.x {
		if to := p.at(e.x[i], e.high[i]); i == 0 {
			path.Move(to)
		} else {
			path.Line(to)
		}
	}
	for i := len(e.x) - 1; i >= 0; i-- {
		path.Line(p.at(e.x[i], e.low[i]))
	}
	path.Close()
	p.canvas.SetColor(c)
	p.canvas.Fill(path)
	p.canvas.SetLineStyle(stroke(c, 0.4))
	p.canvas.Stroke(path)
}

// marks draws two rows: strikes found, and labels with their face where there
// is room.
func (r *Recording) marks(p panel) {
	p.y = span{0, 2}
	row := func(y float64, words string) {
		p.canvas.FillText(style(textSize, ink, text.XRight, text.YCenter), vg.Point{X: p.left - 4, Y: p.at(0, y).Y}, words)
	}
	row(1.5, "strikes")
	row(0.5, "labels")
	for _, k := range r.Strikes {
		at := p.at(float64(k.OnsetNs)/1e9, 0).X
		p.canvas.StrokeLine2(stroke(ink, 0.8), at, p.at(0, 1.15).Y, at, p.at(0, 1.85).Y)
	}
	free := p.left
	for _, l := range r.Labels {
		at := p.at(float64(l.OnsetNs)/1e9, 0).X
		look := stroke(blue, 0.8)
		if l.NotThere {
			look = stroke(orange, 0.8, 2, 1.5)
		}
		p.canvas.StrokeLine2(look, at, p.at(0, 0.65).Y, at, p.at(0, 0.92).Y)
		if l.Face > 0 && at >= free {
			words := style(0.85*textSize, blue, text.XCenter, text.YCenter)
			p.canvas.FillText(words, vg.Point{X: at, Y: p.at(0, 0.35).Y}, fmt.Sprint(l.Face))
			free = at + words.Width("00")
		}
	}
}
