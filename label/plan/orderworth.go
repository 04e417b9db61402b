package plan

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Usual error rates of a comparison.
const (
	WorthLevel = 0.05 // of finding a difference where there is none, two-sided
	WorthPower = 0.8  // of finding one that is there
)

// Worth returns how many strikes tell two detectors apart, when both are judged
// on the same strikes: the pairs that a two-sided paired t test at the level
// needs for the power, if their mean errors differ by difference and the
// differences from strike to strike have the standard deviation sd, in the same
// unit. That is the normal theory's count
//
//	((z(1 - level/2) + z(power)) sd / difference)^2
//
// with z(1 - level/2)^2 / 2 added for the t distribution (Guenther 1981, The
// American Statistician 35:243-244), rounded up. Strikes of one session are
// taken as independent, so that it is a floor.
func Worth(difference, sd, level, power float64) (int, error) {
	switch {
	case !(difference > 0) || math.IsInf(difference, 0):
		return 0, fmt.Errorf("plan: a difference of %g cannot be looked for: give a number above 0", difference)
	case !(sd > 0) || math.IsInf(sd, 0):
		return 0, fmt.Errorf("plan: differences with a spread of %g: give a number above 0", sd)
	case !(level > 0 && level < 1) || !(power > level && power < 1):
		return 0, fmt.Errorf("plan: level %g and power %g: give shares, the level below the power", level, power)
	}
	n := worth(difference, sd, level, power)
	if n > math.MaxInt32 {
		return 0, fmt.Errorf("plan: a difference of %g against a spread of %g would take more strikes than can be counted", difference, sd)
	}
	return int(math.Ceil(n)), nil
}

func worth(difference, sd, level, power float64) float64 {
	z := distuv.UnitNormal.Quantile(1 - level/2)
	root := (z + distuv.UnitNormal.Quantile(power)) * sd / difference
	return root*root + z*z/2
}

// PerCellFor is how many strikes of each cell make up at least so many strikes.
func (d Design) PerCellFor(strikes int) int { return (strikes + d.cells() - 1) / d.cells() }
