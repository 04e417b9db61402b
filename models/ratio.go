package models

import (
	"math"
	"slices"

	"strikerose/features"
)

// Ratio is a ratio of linear forms: all that one rig needs to answer, a short
// list of arithmetic steps on feature values.
//
//	u = sum First_k z_k, made a unit vector
//	q = sum Push_k z_k + u (sum PushEven_j e_j + i sum PushOdd_j o_j)
//	bearing = arg q, plus the rig's yaw offset
//	v = q/|q|, x_k = Re(z_k conj v)
//	top = sum Top_k x_k + sum TopEven_j e_j
//	bottom = max(sum Bottom_k x_k + sum BottomEven_j e_j, FloorShare |q|)
//	height = CentreM + top/bottom, held to 0 and LengthM
//
// with z the vector features y + i x, o the odd scalars (they change sign in a
// mirror) and e the even ones. All weights are real, so that turning a
// recording turns the bearing and mirroring it mirrors the bearing.
type Ratio struct {
	Vectors, Odd, Even []string
	First              []float64
	Push               []float64
	PushOdd, PushEven  []float64
	Top, TopEven       []float64
	Bottom, BottomEven []float64
	FloorShare         float64
	CentreM, LengthM   float64
}

// floorShare keeps the ratio finite where the features contradict each other.
const floorShare = 0.2

// Answer gives the direction q, of any length, and the height in metres. It is
// false where nothing moved or a feature has no value.
func (r *Ratio) Answer(row features.Row) (q complex128, heightM float64, ok bool) {
	z, ok1 := vectors(row, r.Vectors, nil)
	odd, ok2 := scalars(row, r.Odd, nil)
	even, ok3 := scalars(row, r.Even, nil)
	q = r.direction(z, odd, even)
	n := math.Hypot(real(q), imag(q))
	if !(n > 0) {
		return 1, r.CentreM, false
	}
	top, bottom := r.forms(z, even, q/complex(n, 0))
	heightM = r.CentreM + top/math.Max(bottom, r.FloorShare*n)
	return q, math.Min(math.Max(heightM, 0), r.LengthM), ok1 && ok2 && ok3
}

func (r *Ratio) direction(z []complex128, odd, even []float64) complex128 {
	var u, q complex128
	for k, v := range z {
		u += complex(r.First[k]*real(v), r.First[k]*imag(v))
		q += complex(r.Push[k]*real(v), r.Push[k]*imag(v))
	}
	u = unit(u)
	var o, e float64
	for k, v := range odd {
		o += r.PushOdd[k] * v
	}
	for k, v := range even {
		e += r.PushEven[k] * v
	}
	return q + u*complex(e, o)
}

func (r *Ratio) forms(z []complex128, even []float64, v complex128) (top, bottom float64) {
	for k, w := range z {
		x := along(w, v)
		top += r.Top[k] * x
		bottom += r.Bottom[k] * x
	}
	for k, x := range even {
		top += r.TopEven[k] * x
		bottom += r.BottomEven[k] * x
	}
	return top, bottom
}

// Real bags give: a blow turns them less than a stiff bag, and the filling and
// skin lag behind the core's twist. Both factors are round numbers from
// simulated recordings of four rig revisions, on which the slope of true on
// computed height was 1.07 to 1.13 and that of the twist correction 1.1 to
// 1.2; precise labels correct them.
const (
	turnGive         = 1.08
	twistGive        = 1.15
	twistGiveCovered = 1.05 // where the skin's mass is in the rig file
)

// Changes are what labels taught: changes to the weights that follow from the
// rig's constants, one a feature, nil for none.
type Changes struct {
	Vectors    []string  `json:"vectors"`
	Odd        []string  `json:"odd"`
	Even       []string  `json:"even"`
	First      []float64 `json:"first"`
	Push       []float64 `json:"push"`
	PushOdd    []float64 `json:"push_odd"`
	PushEven   []float64 `json:"push_even"`
	Top        []float64 `json:"top"`
	TopEven    []float64 `json:"top_even"`
	Bottom     []float64 `json:"bottom"`
	BottomEven []float64 `json:"bottom_even"`
	ShiftM     float64   `json:"shift_m"` // of the height

	// Geometry of the rigs that taught them, least and largest: the sensor's
	// height above the centre of mass over the radius of gyration.
	GeometryFrom float64 `json:"geometry_from"`
	GeometryTo   float64 `json:"geometry_to"`
}

// geometryFade is how far outside the geometry that taught them changes still
// count for something.
const geometryFade = 0.5

// suits tells how much of the changes suits a rig: all inside the geometry that
// taught them, none beyond geometryFade of it. Where a sensor sits elsewhere on
// the bag, bending shows otherwise in it, and its own weights serve better.
func (c *Changes) suits(k Constants) float64 {
	g := k.geometry()
	outside := math.Max(math.Max(c.GeometryFrom-g, g-c.GeometryTo), 0)
	return math.Max(0, 1-outside/geometryFade)
}

// ownRatio gives a rig's own weights on its own features (see Options.own), on a
// wider list if wanted.
func ownRatio(c Constants, features, vectors, odd, even []string) *Ratio {
	names, spins := splitOwn(features)
	own := newOwnWeights(c, names)
	r := &Ratio{
		Vectors: union(names, vectors), Odd: union(spins, odd), Even: union(nil, even),
		FloorShare: floorShare, CentreM: c.CentreHeightM(), LengthM: c.LengthM,
	}
	r.First, r.Push = make([]float64, len(r.Vectors)), make([]float64, len(r.Vectors))
	r.Top, r.Bottom = make([]float64, len(r.Vectors)), make([]float64, len(r.Vectors))
	r.PushOdd, r.PushEven = make([]float64, len(r.Odd)), make([]float64, len(r.Even))
	r.TopEven, r.BottomEven = make([]float64, len(r.Even)), make([]float64, len(r.Even))
	copy(r.First, own.push)
	copy(r.Push, own.push)
	copy(r.Bottom, own.push)
	for k, w := range own.lever {
		r.Top[k] = turnGive * w
	}
	give := twistGive
	if c.CoverGiven {
		give = twistGiveCovered
	}
	// A push past the axis turns the bag about it: J R sin(delta) = -Iz change of spin.
	for k, n := range spins {
		r.PushOdd[k] = -give * c.TwistKgM2 / (c.MassKg * c.RadiusM) / pulseShare(n)
	}
	return r
}

// add applies a part of changes to a rig's own weights.
func (r *Ratio) add(c *Changes, part float64) {
	for k, n := range c.Vectors {
		at := slices.Index(r.Vectors, n)
		r.First[at] += part * c.First[k]
		r.Push[at] += part * c.Push[k]
		r.Top[at] += part * c.Top[k]
		r.Bottom[at] += part * c.Bottom[k]
	}
	for k, n := range c.Odd {
		r.PushOdd[slices.Index(r.Odd, n)] += part * c.PushOdd[k]
	}
	for k, n := range c.Even {
		at := slices.Index(r.Even, n)
		r.PushEven[at] += part * c.PushEven[k]
		r.TopEven[at] += part * c.TopEven[k]
		r.BottomEven[at] += part * c.BottomEven[k]
	}
	r.CentreM += part * c.ShiftM
}

// union lists first and then what second adds.
func union(first, second []string) []string {
	out := append([]string(nil), first...)
	for _, n := range second {
		if slices.Index(out, n) < 0 {
			out = append(out, n)
		}
	}
	return out
}
