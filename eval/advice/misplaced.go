package advice

import (
	"math"

	"strikerose/dataset/rig"
	"strikerose/eval/bound"
)

// stay is the share of strikes, spread evenly over a sector of some width,
// that an error of normal law leaves in it: the integral of the triangle
// 1 - |e|/width under the normal density.
func stay(width, sd float64) float64 {
	switch {
	case sd == 0:
		return 1
	case math.IsInf(sd, 1):
		return 0
	}
	x := width / sd
	return math.Erf(x/math.Sqrt2) - math.Sqrt(2/math.Pi)/x*(1-math.Exp(-x*x/2))
}

// rightFace is the share of strikes put on the right one of some equal faces.
func rightFace(faces int, sdDeg float64) float64 {
	return max(1/float64(faces), stay(360/float64(faces), sdDeg))
}

// rightBand is the share of strikes at a height that are put into its band.
// Answers beyond the bag's ends count as in the last band there. Where nothing
// is known of the height, a band is guessed by its length.
func rightBand(r *rig.Rig, heightM, sdM float64) float64 {
	name := r.BandOf(heightM)
	from, to, _ := r.BandRange(name)
	if math.IsInf(sdM, 1) {
		return (to - from) / r.Bag.LengthM
	}
	below := func(x float64) float64 { return math.Erfc((heightM-x)/(sdM*math.Sqrt2)) / 2 }
	share := 1.0
	if name != r.Bands[len(r.Bands)-1].Name {
		share = below(to)
	}
	if name != r.Bands[0].Name {
		share -= below(from)
	}
	return share
}

// misplaced is the share of strikes at a height that end on the wrong face or
// in the wrong band, and the part of it that is in the wrong band.
func misplaced(r *rig.Rig, l bound.Least) (share, wrongBand float64) {
	band := rightBand(r, l.HeightM, l.HeightSDM)
	return 1 - rightFace(r.Faces, l.BearingSDDeg)*band, 1 - band
}
