package report

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRoundTicks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-500, 500).Draw(t, "low")
		high := low + rapid.Float64Range(0.01, 1000).Draw(t, "size")
		got := roundTicks(low, high)
		if len(got) < 3 || len(got) > 11 {
			t.Fatalf("%g to %g: %d ticks %v, want 3 to 11", low, high, len(got), got)
		}
		for _, v := range got {
			if v < low-1e-3 || v > high+1e-3 || v == 0 && math.Signbit(v) {
				t.Fatalf("%g to %g: tick %g", low, high, v)
			}
		}
	})
	if roundTicks(1, 1) != nil || roundTicks(0, math.Inf(1)) != nil {
		t.Error("there are ticks where there is no stretch")
	}
}
