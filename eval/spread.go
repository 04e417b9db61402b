package eval

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// PairedSpread is the standard deviation, from strike to strike, of the
// difference between two detectors' sizes of error, by their positions in
// Detectors: what the number of strikes for a paired comparison depends on.
// NaN where fewer than two strikes have both errors. strikes counts those with
// both errors in bearing.
func (c *Comparison) PairedSpread(a, b int) (bearingDeg, heightM float64, strikes int) {
	var deg, m []float64
	for i := range c.Strikes {
		x, y := c.Scores[a][i], c.Scores[b][i]
		if d := math.Abs(x.BearingErrDeg) - math.Abs(y.BearingErrDeg); !math.IsNaN(d) {
			deg = append(deg, d)
		}
		if d := math.Abs(x.HeightErrM) - math.Abs(y.HeightErrM); !math.IsNaN(d) {
			m = append(m, d)
		}
	}
	return sampleSD(deg), sampleSD(m), len(deg)
}

func sampleSD(x []float64) float64 {
	if len(x) < 2 {
		return math.NaN()
	}
	return stat.StdDev(x, nil)
}
