package calibrate

import (
	"math"

	"strikerose/dataset"
)

// Bias is what a gyroscope reads at rest.
type Bias struct {
	Radps [3]float64 `json:"radps"` // mean reading of the x, y and z axis at rest, rad/s
	// SERadps is the standard error of each from the scatter of the stretches, rad/s, each
	// at least 0; absent with a single stretch.
	SERadps *[3]float64 `json:"se_radps,omitempty"`
	Seconds float64     `json:"seconds"` // how long it lay at rest, at least 0
}

// Gyroscope returns the mean rotation reading of still stretches, longer ones
// counting more. The earth turns too slowly to matter (7e-5 rad/s). ok is false
// without stretches.
func Gyroscope(stills []Still) (b Bias, ok bool) {
	for _, s := range stills {
		b.Seconds += s.Seconds
		for k := range b.Radps {
			b.Radps[k] += (s.Gyro[k] - b.Radps[k]) * s.Seconds / b.Seconds
		}
	}
	if len(stills) < 2 {
		return b, len(stills) > 0
	}
	b.SERadps = new([3]float64)
	n := float64(len(stills))
	for k := range b.Radps {
		sum := 0.0
		for _, s := range stills {
			d := (s.Gyro[k] - b.Radps[k]) * s.Seconds / b.Seconds
			sum += d * d
		}
		b.SERadps[k] = math.Sqrt(sum * n / (n - 1))
	}
	return b, true
}

// Curves returns the Allan deviations of the accelerometer's and then the
// gyroscope's axes over the longest of the still stretches; none without
// stretches, three without a gyroscope.
func Curves(sig *dataset.Signal, stills []Still, rateHz float64) [][]Allan {
	if len(stills) == 0 {
		return nil
	}
	longest := stills[0]
	for _, s := range stills {
		if s.Seconds > longest.Seconds {
			longest = s
		}
	}
	columns := sig.A[:]
	if sig.HasGyro() {
		columns = append(columns, sig.G[:]...)
	}
	out := make([][]Allan, len(columns))
	for k, column := range columns {
		x := make([]float64, 0, longest.End-longest.Start)
		for _, v := range column[longest.Start:longest.End] {
			x = append(x, float64(v))
		}
		out[k] = AllanCurve(x, rateHz)
	}
	return out
}
