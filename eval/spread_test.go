package eval

import (
	"math"
	"testing"
)

func TestPairedSpread(t *testing.T) {
	nan := math.NaN()
	c := &Comparison{Strikes: make([]StrikeDoc, 4), Scores: [][]Score{
		{{BearingErrDeg: 5, HeightErrM: nan}, {BearingErrDeg: -9, HeightErrM: 0.1}, {BearingErrDeg: 2, HeightErrM: nan}, {BearingErrDeg: nan}},
		{{BearingErrDeg: -5, HeightErrM: 0.2}, {BearingErrDeg: 1, HeightErrM: 0.1}, {BearingErrDeg: 6, HeightErrM: 0.3}, {BearingErrDeg: 3}},
	}}
	c.Scores[0][3].HeightErrM = nan
	deg, m, n := c.PairedSpread(0, 1) // differences 0, 8 and -4 degrees
	if n != 3 || math.Abs(deg-math.Sqrt(112.0/3)) > 1e-12 || !math.IsNaN(m) {
		t.Errorf("spread %g degrees, %g m on %d strikes; want %g, none, 3", deg, m, n, math.Sqrt(112.0/3))
	}
}
