package trees

import (
	"math"
	"testing"

	"strikerose/dataset/bearing"
)

// TestLikelihood holds the table to the formula.
func TestLikelihood(t *testing.T) {
	l := VonMises.likelihood()
	for i := range 4000 { // up to the bound
		r := 1 - math.Exp(-13.8*float64(i)/4000)
		kappa := bearing.A1Inv(r)
		if want := kappa*r - bearing.LogI0(kappa); math.Abs(l.of(r)-want) > 1e-8 {
			t.Fatalf("at r = %g: %.12g, want %.12g", r, l.of(r), want)
		}
	}
	if l.of(1) != l.of(longest) || l.of(0) != 0 || l.of(1) > 8 {
		t.Errorf("at r = 0: %g; at 1: %g, at the bound %g, want equal ones of at most 8", l.of(0), l.of(1), l.of(longest))
	}
}
