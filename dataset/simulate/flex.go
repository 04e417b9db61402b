package simulate

import (
	"fmt"
	"math"

	"strikerose/dataset/rig"
)

// Flex is how a bag gives along its length: its first bending, as of an even
// beam with free ends, which moves the sensor during contact and shortly after
// and lets even blows at the dead height be felt. The zero value is a stiff
// bag. How it turns the sensor is left out.
type Flex struct{ Hz, DecayS float64 }

// UsualFlex is a choice without source: a filled bag bends slowly and is well
// damped, so that little is left of it after 30 ms.
func UsualFlex() Flex { return Flex{Hz: 45, DecayS: 0.01} }

func (f Flex) check() error {
	if f.Hz != 0 && !(f.Hz > 0 && f.DecayS > 0) || math.IsInf(f.Hz, 0) {
		return fmt.Errorf("simulate: flex: bending of %g Hz that decays in %g s: give both above 0, or a frequency of 0 for a stiff bag", f.Hz, f.DecayS)
	}
	return nil
}

// bending is the shape of the first bending, of a modal mass of 1 kg.
type bending struct{ strapM, lengthM, size float64 }

func newBending(m rig.Mechanics, f Flex) bending {
	if f.Hz == 0 {
		return bending{lengthM: m.LengthM}
	}
	return bending{m.StrapM, m.LengthM, 1 / math.Sqrt(m.MassKg)}
}

// First bending of an even beam with free ends, root of cos(b) cosh(b) = 1
// (textbook). Its shape has a mean square of 1.
const (
	bendRoot  = 4.730040744862704
	bendShare = 0.982502214576238 // (cosh b - cos b)/(sinh b - sin b)
)

// at is the shape at a depth below the lower pivot.
func (b bending) at(depthM float64) float64 {
	x := bendRoot * (depthM - b.strapM) / b.lengthM
	sin, cos := math.Sincos(x)
	return b.size * (math.Cosh(x) + cos - bendShare*(math.Sinh(x)+sin))
}
