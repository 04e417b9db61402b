package report

import (
	"testing"

	"strikerose/eval"
)

func TestTwoDigits(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 0.0069: "0.0069", 0.007: "0.0070", 0.0996: "0.10", 0.2: "0.20", 1: "1.0", 9.96: "10", 16.4: "16", 163: "163", -0.2: "-0.20"} {
		if got := twoDigits(x); got != want {
			t.Errorf("%g: %s, want %s", x, got, want)
		}
	}
}

// A share keeps its decimals up to 100 %; wider intervals go without.
func TestIntervalDigits(t *testing.T) {
	for _, x := range []struct {
		low, high float64
		want      string
	}{{0.984, 0.998, "[98.4, 99.8]"}, {0.988, 1, "[98.8, 100.0]"}, {0.98, 1.006, "[98, 101]"}} {
		if got := interval(eval.Figure{Value: x.low, Low: x.low, High: x.high}, 100, 1); got != x.want {
			t.Errorf("%g to %g: %s, want %s", x.low, x.high, got, x.want)
		}
	}
}
