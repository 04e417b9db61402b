package physics

import (
	"math"

	"strikerose/dataset/bearing"
)

// Grid and priors of the density over depth and, without a gyroscope, over the
// change of spin.
const (
	depths         = 61
	twists         = 13
	twistMostRadps = 6.0
	twistRadps     = 2.5 // mean size: most strikes pass close to the axis, hooks do not
	mostOblique    = 0.6 // sine of the obliqueness: a glove slips beyond
	obliqueSlack   = 0.1 // by which it may be exceeded, as a standard deviation
	impulseUsualNs = 25.0
	impulseSpread  = 0.6 // standard deviation of its logarithm
)

// flattening says how a likelihood is flattened, since neighbouring readings
// share the model's error.
type flattening struct {
	depth float64 // over depth, by this factor
	usual float64 // misfit over its degrees of freedom that strikes have
}

var (
	gyroFlat  = flattening{depth: 4, usual: 0.5}
	accelFlat = flattening{depth: 4, usual: 0.3}
)

// rivalFlat flattens the density further where a rival is sought.
const rivalFlat = 4.0

// leastWorse keeps a strike that happens to fit very well from being taken for
// certain.
const leastWorse = 0.3

// density is the likelihood over depth and change of spin, with what each would
// mean.
type density struct {
	bag    *Bag
	points []point // all depths of one change of spin, then of the next
}

type point struct {
	chi     float64 // misfit with the push at its best
	prior   float64 // logarithm
	log     float64 // of the density
	depthM  float64
	push    complex128 // A
	sharp   float64    // inverse variance of each part of A
	oblique float64    // radians
	toward  complex128 // to the bearing
}

func abs2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// add enters all depths for one change of spin, with the logarithm of its prior.
func (d *density) add(s solution, spin, prior float64) {
	m := d.bag.mechanics
	t := m.MassKg * m.MassKg / (impulsePriorNs * impulsePriorNs)
	w := s.w
	yWy := w[0][0]*abs2(s.y[0]) + 2*w[0][1]*(real(s.y[0])*real(s.y[1])+imag(s.y[0])*imag(s.y[1])) + w[1][1]*abs2(s.y[1])
	for k := range depths {
		depth := m.StrapM + m.LengthM*(float64(k)+0.5)/depths
		hWy := complex(w[0][0]+depth*w[0][1], 0)*s.y[0] + complex(w[0][1]+depth*w[1][1], 0)*s.y[1]
		hWh := w[0][0] + 2*depth*w[0][1] + depth*depth*w[1][1] + t
		p := point{
			depthM: depth, push: hWy / complex(hWh, 0), sharp: hWh,
			chi: s.misfit + yWy - abs2(hWy)/hWh, prior: prior,
		}
		impulse := math.Max(m.MassKg*abs(p.push), 1e-9)
		unusual := math.Log(impulse/impulseUsualNs) / impulseSpread
		p.prior -= unusual * unusual / 2
		sin := -d.bag.twistKgM2 * spin / (m.RadiusM * impulse)
		p.oblique = math.Asin(math.Min(math.Max(sin, -mostOblique), mostOblique))
		if over := (math.Abs(sin) - mostOblique) / obliqueSlack; over > 0 {
			p.prior -= over * over / 2
		}
		turnSin, turnCos := math.Sincos(p.oblique)
		p.toward = -p.push / complex(impulse/m.MassKg, 0) * complex(turnCos, turnSin)
		d.points = append(d.points, p)
	}
}

// search enters changes of spin that no gyroscope measured: the bag then turned
// by spin/w sin(w t) exp(-t/D) after the blow, w and D of its free twist.
func (d *density) search(s *strike, e *equations, n *factored) {
	d.points = make([]point, 0, twists*depths)
	f, integral := make([]complex128, len(s.f)), make([]complex128, len(s.f))
	w, fade := d.bag.twist.Omega(), 1/d.bag.twist.DecayS
	shape := make([]float64, len(s.f))
	for i := s.from; i < s.to; i++ {
		if t := float64(i-s.pre)/s.rateHz - centreS; t > 0 {
			shape[i] = math.Sin(w*t) * math.Exp(-fade*t) / w
		}
	}
	for k := range twists {
		spin := twistMostRadps * (2*float64(k)/(twists-1) - 1)
		for i := s.from; i < s.to; i++ {
			sin, cos := math.Sincos(-spin * shape[i])
			f[i] = s.f[i] * complex(cos, sin)
		}
		s.integrate(f, integral)
		d.add(e.solve(n, f, integral, nil), spin, -math.Abs(spin)/twistRadps)
	}
}

// least is the least misfit of all.
func (d *density) least() float64 {
	least := math.Inf(1)
	for i := range d.points {
		least = math.Min(least, d.points[i].chi)
	}
	return least
}

// settle turns misfits into a density. worse is how many times the usual misfit
// was found. Depths are told by lasting differences, which the model's errors
// imitate, changes of spin by what turns against them; so a bad fit flattens
// the one, and a good fit sharpens the other.
func (d *density) settle(flat flattening, worse float64) {
	depth, spin := flat.depth*math.Max(worse, 1), math.Min(math.Max(worse, leastWorse), 1)
	for i := 0; i < len(d.points); i += depths {
		of := d.points[i : i+depths]
		best := math.Inf(1)
		for k := range of {
			best = math.Min(best, of[k].chi)
		}
		for k := range of {
			p := &of[k]
			p.log = p.prior - best/2/spin - (p.chi-best)/2/depth
			p.sharp /= depth
		}
	}
}

// place reads the density: the heavier lobe answers. It is false where there is
// none.
func (d *density) place() (Place, bool) {
	top := 0
	for i := range d.points {
		if d.points[i].log > d.points[top].log {
			top = i
		}
	}
	if log := d.points[top].log; math.IsInf(log, 0) || math.IsNaN(log) {
		return Place{}, false
	}
	// Two lobes: what lies within a right angle of the best, and the others.
	lobe := func(p *point) int {
		if real(p.toward)*real(d.points[top].toward)+imag(p.toward)*imag(d.points[top].toward) >= 0 {
			return 0
		}
		return 1
	}
	weight := make([]float64, len(d.points))
	var mass [2]float64
	for i := range d.points {
		p := &d.points[i]
		weight[i] = math.Exp(p.log - d.points[top].log)
		mass[lobe(p)] += weight[i]
	}
	take := 0
	if mass[1] > mass[0] {
		take = 1
	}
	var sum complex128
	var depth, push, oblique float64
	for i := range d.points {
		p := &d.points[i]
		if lobe(p) != take {
			continue
		}
		w := weight[i] / mass[take]
		spread2 := 1 / (p.sharp * math.Max(abs2(p.push), 1e-18)) // of its direction, squared
		sum += p.toward * complex(w*math.Exp(-spread2/2), 0)
		depth += w * p.depthM
		push += w * abs(p.push)
		oblique += w * p.oblique
	}
	r := abs(sum)
	if !(r > 0) {
		return Place{}, false
	}
	var variance float64
	for i := range d.points {
		off := d.points[i].depthM - depth
		variance += weight[i] / (mass[0] + mass[1]) * off * off
	}
	m := d.bag.mechanics
	return Place{
		Toward:       sum / complex(r, 0),
		BearingSDDeg: bearing.SDDeg(math.Min(r, 1)),
		HeightM:      math.Min(math.Max(m.HeightM(depth), 0), m.LengthM),
		HeightSDM:    math.Sqrt(variance),
		FlipShare:    mass[1-take] / (mass[0] + mass[1]),
		ImpulseNs:    m.MassKg * push,
		ObliqueDeg:   bearing.Deg(oblique),
		Rival:        d.rival(sum/complex(r, 0), depth, d.points[top].log),
		Whole:        true,
	}, true
}

// rival reads what the density says of the side more than a right angle from a
// direction, flattened so that more than its very top counts. Without one it is
// at the answer's own depth.
func (d *density) rival(toward complex128, depthM, best float64) Rival {
	m := d.bag.mechanics
	var sum complex128
	var depth, mass float64
	for i := range d.points {
		p := &d.points[i]
		if real(p.toward)*real(toward)+imag(p.toward)*imag(toward) >= 0 {
			continue
		}
		w := math.Exp((p.log - best) / rivalFlat)
		sum += p.toward * complex(w, 0)
		depth += w * p.depthM
		mass += w
	}
	size := abs(sum)
	if !(size > 0) {
		return Rival{HeightM: m.HeightM(depthM), Behind: mostBehind}
	}
	return Rival{
		Toward: sum / complex(size, 0), HeightM: m.HeightM(depth / mass),
		Behind: math.Min(-math.Log(mass), mostBehind),
	}
}
