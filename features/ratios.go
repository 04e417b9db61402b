package features

import "math/cmplx"

// ratios holds numbers without the strike's strength in them. Each is a part of
// a sum of squares or has a denominator that no strike makes vanish; the kick
// alone does vanish, at the dead height.
func ratios() []feature {
	out := []feature{
		{
			Def: Def{Name: "vertical_ratio", Unit: "", Doc: "mean vertical specific force from -1 to 25 ms over the root mean square of the horizontal one, both less the mean from 25 to 5 ms before the onset",
				FromMs: beforeFromMs, ToMs: pulseToMs, Macs: 80},
			scalar: func(v *view) float64 {
				return over(v.mean(v.w.A[2], pulseFromMs, pulseToMs)-v.beforeUp, v.rms(pulseFromMs, pulseToMs, v.before))
			},
		},
		{
			Def: Def{Name: "kick_to_tip", Unit: "", Doc: "kick along tip: real part of K conj(k W) over |K|^2 + |k W|^2, k the radius of gyration; from -1/2 to 1/2",
				NeedsGyro: true, FromMs: beforeFromMs, ToMs: tipToMs, Macs: 8},
			scalar: func(v *view) float64 { return alignment(v.kick(), complex(v.gyrateM, 0)*v.tip()) },
		},
		{
			Def: Def{Name: "lever", Unit: "m", Doc: "height of the push above the centre of mass: k^2 times the part of tip along centre_kick over the size of centre_kick",
				NeedsGyro: true, FromMs: beforeFromMs, ToMs: tipToMs, Macs: 8},
			scalar: func(v *view) float64 {
				p := v.centreKick()
				return v.gyrateM * v.gyrateM * over(dot(v.tip(), p), square(p))
			},
		},
		{
			Def: Def{Name: "oblique", Unit: "rad", Doc: "how far the push passes the bag's axis, as the sine of the angle between push and radius: twist times turning inertia over bag radius, mass and size of centre_kick",
				Odd: true, NeedsGyro: true, FromMs: beforeFromMs, ToMs: tipToMs, Macs: 5},
			scalar: func(v *view) float64 { return v.twistM * over(v.twist(), cmplx.Abs(v.centreKick())) },
		},
	}
	for _, s := range []struct {
		name     string
		from, to float64
		text     string
	}{
		{"kick_to_rocking", 35, 65, "35 to 65"},
		{"kick_to_late_rocking", 65, 140, "65 to 140"},
	} {
		out = append(out, feature{
			Def: Def{Name: s.name, Unit: "", Doc: "kick along the rocking that follows: with c the mean horizontal specific force from -3 to 22 ms and r that from " + s.text +
				" ms, less the mean from 25 to 5 ms before the onset, the real part of c conj(r) over |c|^2 + |r|^2; from -1/2 to 1/2",
				FromMs: beforeFromMs, ToMs: s.to, Macs: 2*int(s.to-s.from+1) + 8},
			scalar: func(v *view) float64 {
				return alignment(v.across(kickFromMs, kickToMs), v.across(s.from, s.to)-v.before)
			},
		})
	}
	return out
}

// alignment is Re(a conj b)/(|a|^2 + |b|^2), 0 where both vanish.
func alignment(a, b complex128) float64 { return over(dot(a, b), square(a)+square(b)) }

// over divides, 0 by 0 being 0 for a window in which nothing moves.
func over(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}
