package physics

import (
	"math"

	"strikerose/dataset"
)

// Place is what the fit says of one strike. Spreads are one standard deviation
// of the fit and of the model's own errors together.
type Place struct {
	Toward       complex128 // unit vector y + i x to the bearing
	HeightM      float64    // above the bag's bottom edge, on the bag
	BearingSDDeg float64    // if it is no flip
	HeightSDM    float64
	FlipShare    float64 // probability that the strike came from the other side
	ImpulseNs    float64
	ObliqueDeg   float64 // by which the push passed the axis, toward growing bearing
	Misfit       float64 // chi squared over its degrees of freedom
	Rival        Rival
	Whole        bool // false: the window tells too little, and the answer is a guess
}

// Rival is what lies more than a right angle away from the answer: where the
// strike landed if the answer is a flip.
type Rival struct {
	Toward  complex128 // unit vector y + i x to its bearing, 0 where there is none
	HeightM float64
	// Behind is how far the logarithm of its weight falls short of that of the
	// likeliest point of all, at most mostBehind. A broad rival may have more.
	Behind float64
}

// mostBehind is where a rival is none.
const mostBehind = 14.0

// A weak blow near the dead height is found late: the sensor hardly moves at
// first. A fit that is worse than usual by this factor tries these earlier
// onsets too.
const lateWorse = 4.0

var lateMs = [...]float64{8, 16, 24}

// Place fits a window. It always answers.
func (b *Bag) Place(w *dataset.Window) Place {
	best := b.fit(w, 0)
	if best.strike == nil {
		return b.guess(w)
	}
	if best.worse > lateWorse {
		for _, ms := range lateMs {
			if f := b.fit(w, ms); f.strike != nil && f.worse < best.worse {
				best = f
			}
		}
	}
	best.density.settle(best.flat, best.worse)
	p, ok := best.density.place()
	if !ok {
		return b.guess(w)
	}
	p.Misfit = best.worse * best.flat.usual
	b.addModel(&p, best.strike, math.Max(best.worse, 1))
	return p
}

// fitted is a window fitted with one onset.
type fitted struct {
	strike  *strike // nil where too little of the window is left
	density density
	flat    flattening
	worse   float64 // misfit over the usual one
}

// fit fits a window as if the onset had been some milliseconds earlier.
func (b *Bag) fit(w *dataset.Window, earlierMs float64) fitted {
	s, ok := newStrike(b, w, earlierMs)
	if !ok {
		return fitted{}
	}
	e := newEquations(b, s)
	n, ok := e.factor()
	if !ok {
		return fitted{}
	}
	f := fitted{strike: s, density: density{bag: b}, flat: accelFlat}
	if s.rate != nil {
		f.flat = gyroFlat
		f.density.add(e.solve(n, s.f, s.integral, s.rate), s.spinChange(), 0)
	} else {
		f.density.search(s, e, n)
	}
	f.worse = f.density.least() / e.freedom() / f.flat.usual
	return f
}

// guess answers where the window tells too little.
func (b *Bag) guess(w *dataset.Window) Place {
	var kick complex128
	for i := w.Pre; i < min(len(w.A[0]), w.Pre+int(math.Round(pulseS*w.RateHz))); i++ {
		if z := complex(w.A[1][i], w.A[0][i]); finite(z) {
			kick += z
		}
	}
	return b.Guess(kick)
}

// Guess answers by the sensor's velocity change alone, y + i x: against it, in the
// middle of the bag.
func (b *Bag) Guess(kick complex128) Place {
	p := Place{
		Toward: 1, HeightM: b.mechanics.LengthM / 2, BearingSDDeg: 100, HeightSDM: b.mechanics.LengthM / math.Sqrt(12),
		Rival: Rival{HeightM: b.mechanics.LengthM / 2, Behind: mostBehind},
	}
	if size := abs(kick); size > 0 {
		p.Toward = -kick / complex(size, 0)
	}
	return p
}

// Errors of the model that no misfit shows, as standard deviations: round
// numbers, what stiff bodies on a taut chain leave out. far is the sensor's
// distance from the centre of mass over the radius of gyration.
const (
	gyroBearingDeg    = 0.75 // with rotation rates
	gyroFarDeg        = 0.9  // more, times far
	gyroHeightM       = 0.03 // bending, and the vertical part of a push
	accelBearingDeg   = 2.0  // without
	accelFarDeg       = 3.0
	accelWeakDeg      = 3.0 // more, times the push's share over what the sensor felt of it
	leastFeltShare    = 0.03
	accelHeightM      = 0.02
	accelFarHeightM   = 0.02
	failurePerMisfit  = 0.1 // probability that the model fails altogether, per usual misfit beyond the first
	feltToMs          = 35.0
	shareOfCoverKnown = 0.06 // of the obliqueness: the filling lags behind the skin
	shareOfCoverGuess = 0.10
)

// addModel adds the model's own errors; worse is how many times the usual misfit
// was found, 1 at least.
func (b *Bag) addModel(p *Place, s *strike, worse float64) {
	m := b.mechanics
	far := math.Abs(m.CentreM-m.SensorM) / m.GyrationM
	deg := math.Hypot(gyroBearingDeg, math.Hypot(gyroFarDeg*far, b.obliqueShare*p.ObliqueDeg))
	height := gyroHeightM
	if s.rate == nil {
		push := p.ImpulseNs / m.MassKg
		weak := push / math.Max(s.felt(), leastFeltShare*push+1e-9)
		deg = math.Hypot(accelBearingDeg, math.Hypot(accelFarDeg*far, accelWeakDeg*weak))
		height = math.Hypot(accelHeightM, accelFarHeightM*far)
	}
	grow := math.Sqrt(worse)
	p.BearingSDDeg = math.Hypot(p.BearingSDDeg, grow*deg)
	p.HeightSDM = math.Hypot(p.HeightSDM, grow*height)
	// Where the model fails, either side of the dead height is as likely as its
	// share of the bag.
	if dead, on := m.DeadHeight(); on && s.rate == nil {
		other := dead / m.LengthM
		if p.HeightM < dead {
			other = 1 - other
		}
		p.FlipShare = math.Max(p.FlipShare, math.Min(failurePerMisfit*(worse-1), 1)*other)
	}
}

// felt is the velocity change that the sensor read over the contact, m/s.
func (s *strike) felt() float64 {
	var sum complex128
	n := 0
	for i := s.at(afterMs); i < min(s.at(feltToMs)+1, s.to); i++ {
		sum += s.integral[i]
		n++
	}
	return abs(sum) / float64(max(n, 1))
}
