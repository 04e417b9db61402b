package models

import (
	"context"
	"errors"
	"math"
	"slices"

	"strikerose/dataset/bearing"
)

// Strengths of the pull toward the rig's own weights. They say how far labels
// may move them, as a standard deviation for a feature of usual size: some 0.05
// of the push for the direction and for the height's lower form, 2 cm for its
// upper one, with labels that scatter about the model by labelBearingDeg and
// labelHeightM. A label that states a wider uncertainty counts less. A factor
// of three either way changed no rig's error by more than a tenth.
const (
	firstPull  = 1.0
	pushPull   = 0.25
	topPull    = 90.0
	bottomPull = 15.0
	shiftPull  = 1.0

	labelBearingDeg = 2.0
	labelHeightM    = 0.022
	heightScaleM    = 0.08 // of the pseudo-Huber loss
	fitSteps        = 200
)

// strike is one example, its features divided by the push that the rig's own
// weights find, so that weak and strong blows weigh alike.
type strike struct {
	z         []complex128
	odd, even []float64
	own       complex128 // push by the rig's own weights, of length 1, without the twist's part
	ownTwist  float64    // that part
	ownLever  complex128
	targetRad float64
	heightM   float64 // above the centre of mass
	weightB   float64 // share of a label of usual uncertainty
	weightH   float64
	rig       int
}

// fitChanges learns changes to the rigs' own weights from precise labels.
//
// Directions first by ridge regression, then by maximising the sum of
// cos(estimate - truth), the likelihood of a von Mises error, over weights and
// the yaw of each rig. Its loss is bounded, so a few wrong labels cost little.
// Heights by a pseudo-Huber loss on the ratio of two linear forms.
//
// own are the features with weights of a rig's own; pull is a factor on the
// strengths of the pull toward them.
func fitChanges(ctx context.Context, ex []Example, own, vectorNames, oddNames, evenNames []string, pull float64) (*Changes, error) {
	strikes, rigs := prepare(ex, own, vectorNames, oddNames, evenNames)
	if len(strikes) == 0 {
		return nil, errors.New("no strike moved the bag: the features are all 0")
	}
	scaleZ, scaleOdd, scaleEven := normalise(strikes)
	c := &Changes{Vectors: vectorNames, Odd: oddNames, Even: evenNames, GeometryFrom: math.Inf(1), GeometryTo: math.Inf(-1)}
	for _, e := range ex {
		g := ConstantsOf(e.Rig).geometry()
		c.GeometryFrom, c.GeometryTo = math.Min(c.GeometryFrom, g), math.Max(c.GeometryTo, g)
	}

	yaw := startYaw(strikes, rigs)
	first, err := fitFirst(strikes, yaw, pull)
	if err != nil {
		return nil, err
	}
	push, err := fitPush(ctx, strikes, first, yaw, pull)
	if err != nil {
		return nil, err
	}
	height, err := fitHeight(ctx, strikes, first, push, pull)
	if err != nil {
		return nil, err
	}
	nz, no, ne := len(vectorNames), len(oddNames), len(evenNames)
	c.First = unscale(first, scaleZ)
	c.Push = unscale(push[:nz], scaleZ)
	c.PushOdd = unscale(push[nz:nz+no], scaleOdd)
	c.PushEven = unscale(push[nz+no:nz+no+ne], scaleEven)
	n := nz + ne
	c.Top, c.TopEven = unscale(height[:nz], scaleZ), unscale(height[nz:n], scaleEven)
	c.Bottom, c.BottomEven = unscale(height[n:n+nz], scaleZ), unscale(height[n+nz:2*n], scaleEven)
	c.ShiftM = height[2*n]
	return c, nil
}

// weakestShare of the usual push is what a strike must have to teach: a weaker
// one is mostly noise, which division by its push would blow up.
const weakestShare = 0.1

func prepare(ex []Example, ownNames, vectorNames, oddNames, evenNames []string) (strikes []strike, rigs int) {
	var sizes []float64
	own := map[Constants]*Ratio{}
	index := map[string]int{}
	for _, e := range ex {
		k := ConstantsOf(e.Rig)
		r := own[k]
		if r == nil {
			r = ownRatio(k, ownNames, nil, nil, nil)
			own[k] = r
		}
		if _, ok := index[e.Rig.Key()]; !ok {
			index[e.Rig.Key()] = len(index)
		}
		z, _ := vectors(e.Row, r.Vectors, nil)
		odd, _ := scalars(e.Row, r.Odd, nil)
		var push, lever complex128
		var twist float64
		for i, v := range z {
			push += complex(r.Push[i], 0) * v
			lever += complex(r.Top[i], 0) * v
		}
		for i, v := range odd {
			twist += r.PushOdd[i] * v
		}
		size := math.Hypot(real(push), imag(push))
		if !(size > 0) {
			continue // nothing moved: there is nothing to learn from it
		}
		s := strike{
			own: push / complex(size, 0), ownTwist: twist / size, ownLever: lever / complex(size, 0),
			targetRad: bearing.Rad(e.BearingDeg), heightM: e.HeightM - r.CentreM,
			weightB: labelWeight(e.BearingSDDeg, labelBearingDeg), weightH: labelWeight(e.HeightSDM, labelHeightM),
			rig: index[e.Rig.Key()],
		}
		sizes = append(sizes, size)
		s.z, _ = vectors(e.Row, vectorNames, nil)
		for i := range s.z {
			s.z[i] /= complex(size, 0)
		}
		s.odd, _ = scalars(e.Row, oddNames, nil)
		s.even, _ = scalars(e.Row, evenNames, nil)
		for i := range s.odd {
			s.odd[i] /= size
		}
		for i := range s.even {
			s.even[i] /= size
		}
		strikes = append(strikes, s)
	}
	sorted := slices.Sorted(slices.Values(sizes))
	kept := strikes[:0]
	for i, s := range strikes {
		if sizes[i] >= weakestShare*sorted[len(sorted)/2] {
			kept = append(kept, s)
		}
	}
	return kept, len(index)
}

// labelWeight is the inverse variance of a label about the model, 1 for a label
// that states no uncertainty.
func labelWeight(sd, usual float64) float64 { return usual * usual / (usual*usual + sd*sd) }

// normalise brings every feature to a mean square of 1 and returns the scales.
func normalise(strikes []strike) (z, odd, even []float64) {
	z, odd, even = make([]float64, len(strikes[0].z)), make([]float64, len(strikes[0].odd)), make([]float64, len(strikes[0].even))
	for _, s := range strikes {
		for k, v := range s.z {
			z[k] += size2(v)
		}
		for k, v := range s.odd {
			odd[k] += v * v
		}
		for k, v := range s.even {
			even[k] += v * v
		}
	}
	for _, x := range [][]float64{z, odd, even} {
		for k := range x {
			x[k] = math.Sqrt(x[k]/float64(len(strikes))) + 1e-9
		}
	}
	for _, s := range strikes {
		for k := range s.z {
			s.z[k] /= complex(z[k], 0)
		}
		for k := range s.odd {
			s.odd[k] /= odd[k]
		}
		for k := range s.even {
			s.even[k] /= even[k]
		}
	}
	return z, odd, even
}

func unscale(w, scale []float64) []float64 {
	out := make([]float64, len(w))
	for k := range w {
		out[k] = w[k] / scale[k]
	}
	return out
}

// startYaw is each rig's yaw by its own weights, in radians.
func startYaw(strikes []strike, rigs int) []float64 {
	sums := make([]complex128, rigs)
	for _, s := range strikes {
		d := unit(s.own + s.own*complex(0, s.ownTwist))
		sin, cos := math.Sincos(s.targetRad)
		sums[s.rig] += complex(s.weightB, 0) * complex(cos, sin) * complex(real(d), -imag(d))
	}
	out := make([]float64, rigs)
	for i, v := range sums {
		out[i] = math.Atan2(imag(v), real(v))
	}
	return out
}

// fitFirst is the ridge pass: changes that bring the vectors' sum to length 1
// along the truth.
func fitFirst(strikes []strike, yaw []float64, pull float64) ([]float64, error) {
	var rows [][]float64
	var target []float64
	for _, s := range strikes {
		sin, cos := math.Sincos(s.targetRad - yaw[s.rig])
		root := math.Sqrt(s.weightB)
		re, im := make([]float64, len(s.z)), make([]float64, len(s.z))
		for k, v := range s.z {
			re[k], im[k] = root*real(v), root*imag(v)
		}
		rows = append(rows, re, im)
		target = append(target, root*(cos-real(s.own)), root*(sin-imag(s.own)))
	}
	return ridge(rows, target, pull*firstPull)
}

// lean gives the strike's columns of the second pass and what the rig's own
// weights say, about the direction that the first pass found.
func (s *strike) lean(first []float64) (columns []complex128, own complex128) {
	u := s.own
	for k, v := range s.z {
		u += complex(first[k]*real(v), first[k]*imag(v))
	}
	u = unit(u)
	columns = append(columns, s.z...)
	for _, o := range s.odd {
		columns = append(columns, u*complex(0, o))
	}
	for _, e := range s.even {
		columns = append(columns, u*complex(e, 0))
	}
	return columns, s.own + u*complex(0, s.ownTwist)
}

func sum(own complex128, columns []complex128, w []float64) complex128 {
	re, im := real(own), imag(own)
	for k, c := range columns {
		re += w[k] * real(c)
		im += w[k] * imag(c)
	}
	return complex(re, im)
}

func fitPush(ctx context.Context, strikes []strike, first, yaw []float64, pull float64) ([]float64, error) {
	columns := make([][]complex128, len(strikes))
	own := make([]complex128, len(strikes))
	for i := range strikes {
		columns[i], own[i] = strikes[i].lean(first)
	}
	n := len(columns[0])
	x, err := minimise(ctx, append(make([]float64, n), yaw...), pushLoss(strikes, columns, own, pull), fitSteps)
	if err != nil {
		return nil, err
	}
	return x[:n], nil
}

// pushLoss is the loss of the direction's changes, the yaw of each rig after
// them.
func pushLoss(strikes []strike, columns [][]complex128, own []complex128, pull float64) objective {
	n := len(columns[0])
	return func(x, grad []float64) float64 {
		clear(grad)
		loss := 0.0
		for i := range strikes {
			s := &strikes[i]
			q := sum(own[i], columns[i], x)
			len2 := size2(q) + 1e-12
			sin, cos := math.Sincos(math.Atan2(imag(q), real(q)) + x[n+s.rig] - s.targetRad)
			loss += s.weightB * (1 - cos)
			grad[n+s.rig] += s.weightB * sin
			g := s.weightB * sin / len2
			for k, c := range columns[i] {
				grad[k] += g * (imag(c)*real(q) - real(c)*imag(q))
			}
		}
		for k := range n {
			loss += pull * pushPull * x[k] * x[k]
			grad[k] += 2 * pull * pushPull * x[k]
		}
		return loss
	}
}

// fitHeight returns the changes of top, then of bottom (vectors, then even
// scalars, each), then the shift in metres.
func fitHeight(ctx context.Context, strikes []strike, first, push []float64, pull float64) ([]float64, error) {
	n := len(strikes[0].z) + len(strikes[0].even)
	columns := make([][]float64, len(strikes))
	ownTop, ownBottom := make([]float64, len(strikes)), make([]float64, len(strikes))
	for i := range strikes {
		s := &strikes[i]
		c, own := s.lean(first)
		v := unit(sum(own, c, push))
		for _, z := range s.z {
			columns[i] = append(columns[i], along(z, v))
		}
		columns[i] = append(columns[i], s.even...)
		ownTop[i], ownBottom[i] = along(s.ownLever, v), along(s.own, v)
	}
	return minimise(ctx, make([]float64, 2*n+1), heightLoss(strikes, columns, ownTop, ownBottom, pull), fitSteps)
}

// heightLoss is the loss of the changes of top, of bottom and of the shift.
func heightLoss(strikes []strike, columns [][]float64, ownTop, ownBottom []float64, pull float64) objective {
	n := len(columns[0])
	return func(x, grad []float64) float64 {
		clear(grad)
		loss := 0.0
		for i, c := range columns {
			top, bottom := ownTop[i], ownBottom[i]
			for k, v := range c {
				top += x[k] * v
				bottom += x[n+k] * v
			}
			d := math.Max(bottom, floorShare)
			miss := (x[2*n] + top/d - strikes[i].heightM) / heightScaleM
			root := math.Sqrt(1 + miss*miss)
			w := strikes[i].weightH
			loss += w * (root - 1)
			g := w * miss / root / heightScaleM
			grad[2*n] += g
			for k, v := range c {
				grad[k] += g * v / d
			}
			if bottom > floorShare {
				for k, v := range c {
					grad[n+k] -= g * top / (d * d) * v
				}
			}
		}
		for k := range n {
			loss += pull * (topPull*x[k]*x[k] + bottomPull*x[n+k]*x[n+k])
			grad[k] += 2 * pull * topPull * x[k]
			grad[n+k] += 2 * pull * bottomPull * x[n+k]
		}
		loss += shiftPull * x[2*n] * x[2*n]
		grad[2*n] += 2 * shiftPull * x[2*n]
		return loss
	}
}
