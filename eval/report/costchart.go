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

// costChart is a chart of mean errors against what an answer costs. A diamond is
// a detector that no other beats, a triangle one that errs more than another that
// costs no more.
type costChart struct {
	words  string
	points []costPoint
}

type costPoint struct {
	detector string
	macs     int
	err      float64
	beaten   bool
}

// reach are the ends of the axes: operations and one, since a rule may have none.
func (k costChart) reach() (most, low, high float64) {
	low = math.Inf(1)
	for _, p := range k.points {
		most, low, high = math.Max(most, float64(p.macs)+1), math.Min(low, p.err), math.Max(high, p.err)
	}
	return math.Max(most, 10) * 1.6, low / 1.25, high * 1.25
}

func (k costChart) draw(c draw.Canvas) {
	most, low, high := k.reach()
	f := newFrame(c, logarithmic(0.7, most), logarithmic(low, high))
	ticks := []float64{1}
	for v := 10.0; v < most; v *= 10 {
		ticks = append(ticks, v+1)
	}
	f.along("multiply-accumulate operations of an answer", ticks, operations)
	f.up(k.words, errorTicks(low, high), short)
	at := map[role][]vg.Point{}
	var taken []vg.Rectangle
	for _, p := range k.points {
		where := f.at(float64(p.macs)+1, p.err)
		r := right
		if p.beaten {
			r = wrong
		}
		at[r] = append(at[r], where)
		taken = append(taken, vg.Rectangle{Min: vg.Point{X: where.X - 3, Y: where.Y - 3}, Max: vg.Point{X: where.X + 3, Y: where.Y + 3}})
	}
	byMark(c, 2.8, at)
	style := textStyle(0.85*fontSize, ink, text.XLeft, text.YCenter)
	for _, beaten := range []bool{false, true} { // the best have the first choice of room
		for _, p := range k.points {
			if p.beaten == beaten {
				taken = f.label(style, f.at(float64(p.macs)+1, p.err), p.detector, taken)
			}
		}
	}
	f.border()
}

// operations writes a tick of the axis of operations: "100", "10k".
func operations(v float64) string {
	if n := int(v) - 1; n < 1000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%dk", (int(v)-1)/1000)
}

// label writes a name beside a mark where there is room; where there is none it
// is left out. It returns what is taken then.
func (f frame) label(style text.Style, at vg.Point, name string, taken []vg.Rectangle) []vg.Rectangle {
	width, height := style.Width(name), 0.9*fontSize
	for _, step := range []vg.Point{{X: 5, Y: 0}, {X: -5 - width, Y: 0}, {X: -width / 2, Y: 8}, {X: -width / 2, Y: -8}, {X: 4, Y: 8}, {X: 4, Y: -8}, {X: -4 - width, Y: 8}, {X: -4 - width, Y: -8}} {
		from := vg.Point{X: at.X + step.X, Y: at.Y + step.Y}
		box := vg.Rectangle{Min: vg.Point{X: from.X, Y: from.Y - height/2}, Max: vg.Point{X: from.X + width, Y: from.Y + height/2}}
		if box.Min.X < f.left+1 || box.Max.X > f.right-1 || box.Min.Y < f.bottom+1 || box.Max.Y > f.top-1 || overlaps(box, taken) {
			continue
		}
		f.canvas.FillText(style, from, name)
		return append(taken, box)
	}
	return taken
}

func overlaps(box vg.Rectangle, taken []vg.Rectangle) bool {
	for _, t := range taken {
		if box.Min.X < t.Max.X && t.Min.X < box.Max.X && box.Min.Y < t.Max.Y && t.Min.Y < box.Max.Y {
			return true
		}
	}
	return false
}

// costFigures draw a group's errors against cost.
func costFigures(g eval.Group) []Figure {
	if g.Choice == nil {
		return nil
	}
	var out []Figure
	for _, x := range []struct {
		measure, words string
		scale          float64
	}{{eval.BearingMAE, "mean bearing error, degrees", 1}, {eval.HeightMAE, "mean height error, cm", 100}} {
		chart := costChart{words: x.words}
		fig := Figure{Name: figureName("cost", x.measure, g.Rig), Heads: []string{"detector", "macs", "numbers", "bytes", "wait_ms", "beaten_by", x.measure, "low", "high"},
			width: 280, height: 200}
		var parts []string
		for k, cost := range g.Choice.Costs {
			err := g.Rows[k].Figure(x.measure)
			if !(err.Value > 0) {
				continue
			}
			chart.points = append(chart.points, costPoint{cost.Detector, cost.Macs, x.scale * err.Value, cost.BeatenBy != ""})
			parts = append(parts, fmt.Sprintf("%s %s with %d", cost.Detector, number(err.Value, x.scale, 1), cost.Macs))
			fig.Rows = append(fig.Rows, []string{cost.Detector, fmt.Sprint(cost.Macs), fmt.Sprint(cost.Numbers), fmt.Sprint(cost.Bytes), plain(cost.WaitMs), cost.BeatenBy,
				plain(err.Value), plain(err.Low), plain(err.High)})
		}
		fig.Title = fmt.Sprintf("The %s against operations of an answer, %s: %s", x.words, groupTitle(g), strings.Join(parts, ", "))
		fig.paint = chart.draw
		if len(chart.points) > 1 {
			out = append(out, fig)
		}
	}
	return out
}
