package plan

import (
	"math"
	"testing"
)

// Against the exact counts of R 4.2.2 power.t.test, type "paired", which solves
// the noncentral t distribution.
func TestWorth(t *testing.T) {
	for _, c := range []struct {
		difference, sd, power, exact float64
		strikes                      int
	}{
		{5, 10, 0.8, 33.367204, 34},
		{2, 6, 0.9, 96.508047, 97},
	} {
		if got := worth(c.difference, c.sd, 0.05, c.power); math.Abs(got-c.exact) > 0.06 {
			t.Errorf("difference %g, spread %g: %.4f strikes, want %.4f", c.difference, c.sd, got, c.exact)
		}
		if got, err := Worth(c.difference, c.sd, 0.05, c.power); got != c.strikes || err != nil {
			t.Errorf("difference %g, spread %g: %d strikes, %v; want %d", c.difference, c.sd, got, err, c.strikes)
		}
	}
	for _, bad := range [][4]float64{{0, 1, 0.05, 0.8}, {1, 0, 0.05, 0.8}, {1, 1, 0, 0.8}, {1, 1, 0.05, 1}, {1, 1, 0.9, 0.8},
		{math.NaN(), 1, 0.05, 0.8}, {1, math.Inf(1), 0.05, 0.8}, {1e-9, 1, 0.05, 0.8}} {
		if n, err := Worth(bad[0], bad[1], bad[2], bad[3]); err == nil {
			t.Errorf("%v: %d strikes, want a refusal", bad, n)
		}
	}
}
