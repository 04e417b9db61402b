package calibrate

import (
	"math"

	"strikerose/dataset"
)

// Bias is what a gyroscope reads at rest.
type Bias struct {
	Radps   [3]float64  `json:"radps"`
	SERadps *[3]float64 `json:"se_radps,omitempty"` // from the stretches' scatter; nil with a single one
	Seconds float64     `json:"seconds"`
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
