package features

import (
	"math"

	"strikerose/dataset"
)

// Times of the velocity changes, ms after the onset. Contact lasts 14 to 29 ms
// with most of its push before 22; the rotation rate is read after that.
const (
	kickFromMs, kickToMs = -3, 22
	tipFromMs, tipToMs   = 20, 32
)

// contact holds the velocity changes over the contact.
func contact() []feature {
	return []feature{
		{
			// Specific force integrates to a velocity change exactly. Taking the
			// reading before the onset off it, but not the matching part off the
			// rotation, would break that away from the centre of mass.
			Def: Def{Name: "kick", Unit: "m/s", Doc: "velocity change of the sensor across the bag: integral of the horizontal specific force from -3 to 22 ms, nothing taken off",
				Vector: true, FromMs: kickFromMs, ToMs: kickToMs, Macs: 52},
			vector: (*view).kick,
		},
		{
			Def: Def{Name: "lift", Unit: "m/s", Doc: "velocity change of the sensor along the bag: integral of the vertical specific force less one g from -3 to 22 ms",
				FromMs: kickFromMs, ToMs: kickToMs, Macs: 26},
			scalar: func(v *view) float64 {
				return (v.mean(v.w.A[2], kickFromMs, kickToMs) - dataset.StandardGravity) * (kickToMs - kickFromMs) / 1000
			},
		},
		{
			Def: Def{Name: "tip", Unit: "rad/s", Doc: "change of the horizontal rotation rate as the motion of points above: mean from 20 to 32 ms less the mean from 25 to 5 ms before the onset",
				Vector: true, NeedsGyro: true, FromMs: beforeFromMs, ToMs: tipToMs, Macs: 26},
			vector: (*view).tip,
		},
		{
			Def: Def{Name: "twist", Unit: "rad/s", Doc: "change of the rotation rate about the bag's axis: mean from 20 to 32 ms less the mean from 25 to 5 ms before the onset",
				Odd: true, NeedsGyro: true, FromMs: beforeFromMs, ToMs: tipToMs, Macs: 13},
			scalar: (*view).twist,
		},
		{
			Def: Def{Name: "centre_kick", Unit: "m/s", Doc: "velocity change of the bag's centre of mass: kick less tip times the sensor's height above it",
				Vector: true, NeedsGyro: true, FromMs: beforeFromMs, ToMs: tipToMs, Macs: 2},
			vector: (*view).centreKick,
		},
	}
}

func (v *view) kick() complex128 {
	return v.across(kickFromMs, kickToMs) * complex((kickToMs-kickFromMs)/1000.0, 0)
}

func (v *view) tip() complex128 { return v.rock(tipFromMs, tipToMs) - v.rockBefore }

func (v *view) twist() float64 { return v.mean(v.w.G[2], tipFromMs, tipToMs) - v.spinBefore }

func (v *view) centreKick() complex128 { return v.kick() - complex(v.sensorM, 0)*v.tip() }

// rms is the root mean square size of the horizontal reading over a stretch,
// less take.
func (v *view) rms(fromMs, toMs float64, take complex128) float64 {
	first, end := v.whole(fromMs, toMs)
	var sum float64
	for j := first; j < end; j++ {
		z := v.push(j) + v.before - take
		sum += square(z)
	}
	return math.Sqrt(sum / float64(end-first))
}

// square is |z|^2.
func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// dot is the scalar product of two vectors: the real part of a conj b.
func dot(a, b complex128) float64 { return real(a)*real(b) + imag(a)*imag(b) }
