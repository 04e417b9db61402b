package chain

import (
	"math"
	"sort"

	"strikerose/dataset"
)

// longestLoss is the most lost samples that a line may stand for: at 400 Hz it
// spans 15 ms, about a contact. Longer losses end the segment.
const longestLoss = 5

// filler sees lost samples by the time between readings and fills short losses
// by the line across them.
type filler struct {
	rateHz  float64
	lossNs  int64 // least time between readings that tells of a loss
	have    bool
	last    cell
	segment int32
}

func newFiller(rateHz float64) filler {
	f := filler{rateHz: rateHz}
	period := int(1e9 / rateHz)
	f.lossNs = int64(period + sort.Search(2*period, func(ns int) bool { return f.steps(int64(period+ns)) >= 2 }))
	return f
}

// steps is how many sample periods a time is, to the nearest.
func (f *filler) steps(ns int64) float64 { return math.Round(float64(ns) * f.rateHz / 1e9) }

// gap returns how many samples were lost before s, if few enough to fill, and
// whether a new segment begins.
func (f *filler) gap(s dataset.Sample) (lost int, broken bool) {
	if !f.have {
		return 0, true
	}
	if s.Segment != f.segment {
		return 0, true
	}
	steps := f.steps(s.TNs - f.last.t)
	if steps > longestLoss+1 {
		return 0, true
	}
	return max(0, int(steps)-1), false
}

// between returns the reading j/n of the way from the last one to x.
func (f *filler) between(x cell, tNs int64, j, n int) cell {
	y := cell{t: f.last.t + (tNs-f.last.t)*int64(j)/int64(n), flags: filled}
	part := float64(j) / float64(n)
	for k := range y.a {
		y.a[k] = f.last.a[k] + float64(part*(x.a[k]-f.last.a[k]))
		y.g[k] = f.last.g[k] + float64(part*(x.g[k]-f.last.g[k]))
	}
	return y
}

// hold remembers the newest reading.
func (f *filler) hold(x cell, s dataset.Sample) { f.have, f.last, f.segment = true, x, s.Segment }

func (f *filler) restart() { f.have = false }
