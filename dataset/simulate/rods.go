package simulate

import (
	"math"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// rods is a bag that moves at any angle, as rig.Pendulum does. Its bending,
// which is small, is stepped as a mode in the bag's frame.
type rods struct {
	rig.Pendulum
	pose       rig.Pose
	at         float64
	acting     []acting
	flex       bank
	bend       bending
	sensorBend float64
}

// acting is a push that acts, in the bag's frame.
type acting struct {
	from, seconds float64
	forceN, atM   rig.Vec // at its peak
}

func newRods(m rig.Mechanics, f Flex) *rods {
	b := &rods{Pendulum: m.Pendulum(), pose: rig.Hanging(), bend: newBending(m, f)}
	b.sensorBend = b.bend.at(m.SensorM)
	if f.Hz > 0 {
		b.flex.mode = []mode{newMode(f.Hz, f.DecayS)}
	}
	return b
}

// longestStepS bounds a Runge-Kutta step: rig.Pendulum keeps energy to 1e-6
// with it, and a contact of 10 ms has ten steps and more.
const longestStepS = 0.001

// advance steps between the instants at which pushes begin and end, never more
// than longestStepS at once.
func (b *rods) advance(to float64) {
	b.flex.advance(to)
	for b.at < to {
		until := min(to, b.at+longestStepS)
		for _, p := range b.acting {
			if end := p.from + p.seconds; end > b.at && end < until {
				until = end
			}
		}
		middle := b.at + (until-b.at)/2
		b.pose = b.Step(b.pose, until-b.at, b.force(b.at), b.force(middle), b.force(until))
		b.at = until
		n := 0
		for _, p := range b.acting {
			if p.from+p.seconds > b.at {
				b.acting[n] = p
				n++
			}
		}
		b.acting = b.acting[:n]
	}
}

// force joins the pushes that act at a time. Two at once, which no striker
// throws, act at the point between them that their sizes give.
func (b *rods) force(t float64) rig.Push {
	var sum rig.Push
	whole := 0.0
	for _, p := range b.acting {
		u := (t - p.from) / p.seconds
		if u < 0 || u > 1 {
			continue
		}
		size := math.Sin(math.Pi * u)
		sum.ForceN = sum.ForceN.Plus(p.forceN.Times(size))
		weight := size * math.Sqrt(p.forceN.Dot(p.forceN))
		sum.AtM = sum.AtM.Plus(p.atM.Times(weight))
		whole += weight
	}
	if whole > 0 {
		sum.AtM = sum.AtM.Times(1 / whole)
	}
	return sum
}

func (b *rods) strike(s Strike) {
	from := bearing.Unit(s.BearingDeg - s.ObliqueDeg)
	sin, cos := math.Sincos(bearing.Rad(s.RiseDeg))
	depth := b.DepthM(s.HeightM)
	b.acting = append(b.acting, acting{
		from: b.at, seconds: s.ContactS,
		forceN: rig.Vec{X: -imag(from) * cos, Y: -real(from) * cos, Z: sin}.Times(s.PeakN),
		atM:    b.Surface(depth, s.BearingDeg),
	})
	if len(b.flex.mode) > 0 {
		b.flex.push(s.ContactS, [mostModes]complex128{scale(-s.PeakN*cos*b.bend.at(depth), from)})
	}
}

func (b *rods) read() (a, g [3]float64) {
	f, w := b.Reading(b.pose, b.force(b.at), rig.Axis(b.SensorM))
	if len(b.flex.mode) > 0 {
		bent := scale(b.sensorBend, b.flex.mode[0].a)
		f.X, f.Y = f.X+imag(bent), f.Y+real(bent)
	}
	return [3]float64{f.X, f.Y, f.Z}, [3]float64{w.X, w.Y, w.Z}
}
