package chain

import (
	"math"

	"strikerose/dataset"
)

// longestLoss is the most lost samples that a line may stand for: at 400 Hz it
// spans 15 ms, about a contact. Longer losses end the segment.
const longestLoss = 5

// filler sees lost samples by the time between readings and fills short losses
// by the line across them.
type filler struct {
	have    bool
	last    cell
	segment int32
}

// gap returns how many samples were lost before s, if few enough to fill, and
// whether a new segment begins.
func (f *filler) gap(s dataset.Sample, rateHz float64) (lost int, broken bool) {
	if !f.have {
		return 0, true
	}
	if s.Segment != f.segment {
		return 0, true
	}
	steps := math.Round(float64(s.TNs-f.last.t) * rateHz / 1e9)
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
