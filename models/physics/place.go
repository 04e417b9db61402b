package physics

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
)

// Place is what the fit says of one strike. Spreads are those of the fit and of
// the model together, one standard deviation.
type Place struct {
	Toward       complex128 // unit vector to the bearing: against the push, turned by the obliqueness
	HeightM      float64    // above the bag's bottom edge, on the bag
	BearingSDDeg float64    // about the branch that was taken
	HeightSDM    float64
	FlipShare    float64 // probability that the push came from the other side
	ImpulseNs    float64
	ObliqueDeg   float64 // by which the push passed the axis
	Whole        bool    // false: the window told too little, and the answer is a guess
}

// Grid and priors of the density over depth and twist.
const (
	depths         = 61
	twistMostRadps = 6.0 // looked for without a gyroscope
	twists         = 13
	twistSDRadps   = 3.0 // spread of the change of spin that strikes make
	mostOblique    = 0.6 // sine of it, at most
	impulseSD      = 0.6 // spread of the logarithm of the impulse
	impulseUsualNs = 28.0

	gyroFlatten  = 4.0 // neighbouring readings share the model's error
	accelFlatten = 8.0
)

// Place fits a window. It always answers.
func (b *Bag) Place(w *dataset.Window) Place {
	s, ok := newStrike(b, w)
	if !ok {
		return b.guess(w)
	}
	e := newEquations(b, s)
	n, ok := e.factor()
	if !ok {
		return b.guess(w)
	}
	d := density{bag: b, flatten: accelFlatten}
	if s.rate != nil {
		d.flatten = gyroFlatten
		d.add(e.solve(n, s.f, s.integral, s.rate), s.spinChange(), 0)
	} else {
		d.search(s, e, n)
	}
	p, ok := d.place()
	if !ok {
		return b.guess(w)
	}
	b.modelSpread(&p, s)
	return p
}

// guess answers where the window tells too little: against the velocity change,
// in the middle of the bag.
func (b *Bag) guess(w *dataset.Window) Place {
	var kick complex128
	for i := w.Pre; i < min(len(w.A[0]), w.Pre+int(math.Round(pulseS*w.RateHz))); i++ {
		if z := complex(w.A[1][i], w.A[0][i]); finite(z) {
			kick += z
		}
	}
	p := Place{Toward: 1, HeightM: b.mechanics.LengthM / 2, BearingSDDeg: 100, HeightSDM: b.mechanics.LengthM / math.Sqrt(12)}
	if size := abs(kick); size > 0 {
		p.Toward = -kick / complex(size, 0)
	}
	return p
}

// density is the likelihood over depth and twist with what each would mean.
type density struct {
	bag     *Bag
	flatten float64
	points  []point
}

type point struct {
	log     float64
	depthM  float64
	push    complex128 // A
	sd      float64    // of A, each part, m/s
	spin    float64
	toward  complex128 // to the bearing
	oblique float64
}

// add enters all depths for one change of spin, with the logarithm of its prior.
func (d *density) add(s solution, spin, prior float64) {
	m := d.bag.mechanics
	t := m.MassKg * m.MassKg / (usualImpulseNs * usualImpulseNs)
	scale := d.flatten
	for k := range depths {
		depth := m.StrapM + m.LengthM*(float64(k)+0.5)/depths
		wy0 := complex(s.w[0][0]+depth*s.w[1][0], 0)*s.y[0] + complex(s.w[0][1]+depth*s.w[1][1], 0)*s.y[1]
		hwh := s.w[0][0] + 2*depth*s.w[0][1] + depth*depth*s.w[1][1] + t
		a := wy0 / complex(hwh, 0)
		// Likelihood of the rest after A and B are tied.
		yy := s.w[0][0]*abs2(s.y[0]) + 2*s.w[0][1]*(real(s.y[0])*real(s.y[1])+imag(s.y[0])*imag(s.y[1])) + s.w[1][1]*abs2(s.y[1])
		chi := s.misfit + yy - abs2(wy0)/hwh
		impulse := m.MassKg * abs(a)
		sin := -d.bag.twistKgM2 * spin / (m.RadiusM * math.Max(impulse, 1e-6))
		p := point{depthM: depth, push: a, spin: spin, sd: math.Sqrt(scale / hwh)}
		z := math.Log(math.Max(impulse, 1e-6)/impulseUsualNs) / impulseSD
		p.log = -chi/2/scale - z*z/2 + prior
		if d.bag.searchedTwist(d.flatten) && math.Abs(sin) > mostOblique {
			over := (math.Abs(sin) - mostOblique) / 0.1
			p.log -= over * over / 2
		}
		p.oblique = math.Asin(math.Min(math.Max(sin, -mostOblique), mostOblique))
		if size := abs(a); size > 0 {
			turnSin, turnCos := math.Sincos(p.oblique)
			p.toward = -a / complex(size, 0) * complex(turnCos, turnSin)
		} else {
			p.toward = 1
		}
		d.points = append(d.points, p)
	}
}

func (b *Bag) searchedTwist(flatten float64) bool { return flatten == accelFlatten }

func abs2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// search enters changes of spin that the accelerometer cannot see but in what
// it turns.
func (d *density) search(s *strike, e *equations, n *factored) {
	f, integral := make([]complex128, len(s.f)), make([]complex128, len(s.f))
	w, fade := d.bag.twist.Omega(), 1/d.bag.twist.DecayS
	for k := range twists {
		spin := twistMostRadps * (2*float64(k)/(twists-1) - 1)
		for i := s.from; i < s.to; i++ {
			f[i] = s.f[i]
			if t := float64(i-s.pre)/s.rateHz - centreS; t > 0 && spin != 0 {
				sin, cos := math.Sincos(-spin / w * math.Sin(w*t) * math.Exp(-fade*t))
				f[i] *= complex(cos, sin)
			}
		}
		s.integrate(f, integral)
		z := spin / twistSDRadps
		d.add(e.solve(n, f, integral, nil), spin, -z*z/2)
	}
}

// spinChange is the change of spin over the contact: the line through 20 to 50
// ms, carried back to the pulse's centre, less the mean before.
func (s *strike) spinChange() float64 {
	var n, st, sx, stt, stx, before, nb float64
	for i := s.from; i < s.to; i++ {
		t := float64(i-s.pre) / s.rateHz
		switch ms := t * 1000; {
		case ms <= beforeToMs:
			before += s.spin[i]
			nb++
		case ms >= 20 && ms <= integralToMs:
			t -= centreS
			n, st, sx, stt, stx = n+1, st+t, sx+s.spin[i], stt+t*t, stx+t*s.spin[i]
		}
	}
	if n < 1 || nb < 1 {
		return 0
	}
	after := sx / n
	if det := n*stt - st*st; n >= 4 && det > 0 {
		after = (stt*sx - st*stx) / det
	}
	return after - before/nb
}

// place reads the density: the heavier lobe answers.
func (d *density) place() (Place, bool) {
	best := math.Inf(-1)
	top := -1
	for i, p := range d.points {
		if p.log > best {
			best, top = p.log, i
		}
	}
	if top < 0 || math.IsInf(best, 0) || math.IsNaN(best) {
		return Place{}, false
	}
	weight := make([]float64, len(d.points))
	// Two lobes: pushes within a right angle of the best one, and the others.
	var mass [2]float64
	lobe := func(p point) int {
		if real(p.toward)*real(d.points[top].toward)+imag(p.toward)*imag(d.points[top].toward) >= 0 {
			return 0
		}
		return 1
	}
	for i, p := range d.points {
		weight[i] = math.Exp(p.log - best)
		mass[lobe(p)] += weight[i]
	}
	take := 0
	if mass[1] > mass[0] {
		take = 1
	}
	var toward, out Place
	var sum complex128
	var depth, impulse, oblique float64
	for i, p := range d.points {
		if lobe(p) != take {
			continue
		}
		w := weight[i] / mass[take]
		spread := p.sd / math.Max(abs(p.push), 1e-9)
		sum += p.toward * complex(w*math.Exp(-spread*spread/2), 0)
		depth += w * p.depthM
		impulse += w * d.bag.mechanics.MassKg * abs(p.push)
		oblique += w * p.oblique
	}
	_ = toward
	var variance float64
	for i, p := range d.points {
		w := weight[i] / (mass[0] + mass[1])
		variance += w * (p.depthM - depth) * (p.depthM - depth)
	}
	r := abs(sum)
	if !(r > 0) {
		return Place{}, false
	}
	out.Toward = sum / complex(r, 0)
	out.BearingSDDeg = bearing.SDDeg(r)
	out.HeightM = math.Min(math.Max(d.bag.mechanics.HeightM(depth), 0), d.bag.mechanics.LengthM)
	out.HeightSDM = math.Sqrt(variance)
	out.FlipShare = mass[1-take] / (mass[0] + mass[1])
	out.ImpulseNs = impulse
	out.ObliqueDeg = bearing.Deg(oblique)
	out.Whole = true
	return out, true
}

// modelSpread adds what the model itself does not tell.
func (b *Bag) modelSpread(p *Place, s *strike) {
	off := math.Abs(b.mechanics.CentreM-b.mechanics.SensorM) / b.mechanics.GyrationM
	if s.rate != nil {
		p.BearingSDDeg = math.Hypot(p.BearingSDDeg, math.Hypot(0.9, math.Hypot(0.9*off, b.obliqueShare*p.ObliqueDeg)))
		p.HeightSDM = math.Hypot(p.HeightSDM, 0.027)
		return
	}
	p.BearingSDDeg = math.Hypot(p.BearingSDDeg, 4.0)
	p.HeightSDM = math.Hypot(p.HeightSDM, 0.03)
}
