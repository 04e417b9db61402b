package simulate

import (
	"math"
	"testing"
)

func TestReadingsAsText(t *testing.T) {
	for _, c := range []struct {
		digits int
		perSI  float64
		si     float64
		want   string
	}{
		{0, 2048, -1.5, "-3072"}, {0, 1, 0.4, "0"}, {5, 1, 1, "1.00000"}, {5, 1, -0.000012, "-0.00001"}, {5, 1, -1e-9, "0.00000"},
		{3, 180 / math.Pi, math.Pi / 1800, "0.100"}, {2, 1000, 15.99999999, "16000.00"}, {4, 1, -156.90604, "-156.9060"}, {4, 1, 0.99996, "1.0000"},
	} {
		if got := string(scaleTo{perSI: c.perSI, digits: c.digits}.append(nil, c.si)); got != c.want {
			t.Errorf("%g times %g with %d digits: %q, want %q", c.si, c.perSI, c.digits, got, c.want)
		}
	}
}
