package features

import "fmt"

// feature is a definition with the function that computes it.
type feature struct {
	Def
	vector func(v *view) complex128
	scalar func(v *view) float64
}

// The table and what follows from it are made once and never changed.
var (
	table   = list()
	starts  = firstColumns(table)
	columns = starts[len(table)]
	places  = byName(table)
)

// list holds every feature in order: contact first, then what follows it, then
// what came before.
func list() []feature {
	var out []feature
	out = append(out, contact()...)
	out = append(out, shape()...)
	out = append(out, ratios()...)
	out = append(out, later()...)
	out = append(out, before()...)
	for i := range out {
		out[i].Board = out[i].NotBoard == ""
	}
	return out
}

// edgesMs bound the stretches of later means, ms after the onset: fine during
// contact (10 to 30 ms), then wider as the rocking takes over (periods of some
// 400 to 500 ms).
func edgesMs() []float64 {
	return []float64{-1, 4, 8, 12, 18, 25, 35, 50, 65, 100, 140, 200, 260, 350}
}

// later holds the means over stretches after the onset, less the mean before.
func later() []feature {
	var out []feature
	edges := edgesMs()
	for i := range len(edges) - 1 {
		from, to := edges[i], edges[i+1]
		name := fmt.Sprintf("_%g_%g", from, to)
		if from < 0 {
			name = fmt.Sprintf("_m%g_%g", -from, to)
		}
		doc := fmt.Sprintf("%%s, mean from %g to %g ms after the onset less the mean from 25 to 5 ms before it", from, to)
		def := func(what, unit, text string, axes int) Def {
			return Def{Name: what + name, Unit: unit, Doc: fmt.Sprintf(doc, text), FromMs: beforeFromMs, ToMs: to, Macs: axes * int(to-from+1)}
		}
		a := def("accel", "m/s2", "horizontal specific force", 2)
		a.Vector = true
		w := def("rock", "rad/s", "horizontal rotation rate as the motion of points above", 2)
		w.Vector, w.NeedsGyro = true, true
		s := def("spin", "rad/s", "rotation rate about the bag's axis", 1)
		s.Odd, s.NeedsGyro = true, true
		z := def("vertical", "m/s2", "vertical specific force", 1)
		out = append(out,
			feature{Def: a, vector: func(v *view) complex128 { return v.across(from, to) - v.before }},
			feature{Def: w, vector: func(v *view) complex128 { return v.rock(from, to) - v.rockBefore }},
			feature{Def: s, scalar: func(v *view) float64 { return v.mean(v.w.G[2], from, to) - v.spinBefore }},
			feature{Def: z, scalar: func(v *view) float64 { return v.mean(v.w.A[2], from, to) - v.beforeUp }})
	}
	return out
}

// before holds what the bag did before the onset: it may still be swinging.
func before() []feature {
	out := []feature{
		{
			Def: Def{Name: "accel_before", Unit: "m/s2", Doc: "horizontal specific force, mean from 25 to 5 ms before the onset",
				Vector: true, FromMs: beforeFromMs, ToMs: beforeToMs, Macs: 42},
			vector: func(v *view) complex128 { return v.before },
		},
		{
			Def: Def{Name: "rock_before", Unit: "rad/s", Doc: "horizontal rotation rate as the motion of points above, mean from 25 to 5 ms before the onset",
				Vector: true, NeedsGyro: true, FromMs: beforeFromMs, ToMs: beforeToMs, Macs: 42},
			vector: func(v *view) complex128 { return v.rockBefore },
		},
		{
			Def: Def{Name: "spin_before", Unit: "rad/s", Doc: "rotation rate about the bag's axis, mean from 25 to 5 ms before the onset",
				Odd: true, NeedsGyro: true, FromMs: beforeFromMs, ToMs: beforeToMs, Macs: 21},
			scalar: func(v *view) float64 { return v.spinBefore },
		},
	}
	for _, s := range [][2]float64{{60, 25}, {150, 60}, {300, 150}} {
		from, to := -s[0], -s[1]
		name := fmt.Sprintf("_%g_%g_before", s[0], s[1])
		doc := fmt.Sprintf("%%s, mean from %g to %g ms before the onset less the mean from 25 to 5 ms before it", s[0], s[1])
		def := func(what, unit, text string) Def {
			return Def{Name: what + name, Unit: unit, Doc: fmt.Sprintf(doc, text), Vector: true, FromMs: from, ToMs: beforeToMs, Macs: 2 * int(to-from+1)}
		}
		a := def("accel", "m/s2", "horizontal specific force")
		w := def("rock", "rad/s", "horizontal rotation rate as the motion of points above")
		w.NeedsGyro = true
		out = append(out,
			feature{Def: a, vector: func(v *view) complex128 { return v.across(from, to) - v.before }},
			feature{Def: w, vector: func(v *view) complex128 { return v.rock(from, to) - v.rockBefore }})
	}
	return append(out, feature{
		Def: Def{Name: "swing_before", Unit: "m/s2", Doc: "earlier swing: root mean square size of the horizontal specific force from 150 to 5 ms before the onset",
			FromMs: -150, ToMs: beforeToMs, Macs: 290},
		scalar: func(v *view) float64 { return v.rms(-150, beforeToMs, 0) },
	})
}

// firstColumns returns the first column of each feature, and their number last.
func firstColumns(fs []feature) []int {
	out := make([]int, 1, len(fs)+1)
	for _, f := range fs {
		n := 1
		if f.Vector {
			n = 2
		}
		out = append(out, out[len(out)-1]+n)
	}
	return out
}

func byName(fs []feature) map[string]int {
	m := make(map[string]int, len(fs))
	for i, f := range fs {
		m[f.Name] = i
	}
	return m
}
