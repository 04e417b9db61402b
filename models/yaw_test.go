package models

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
)

func TestShareYaw(t *testing.T) {
	for _, c := range []struct {
		name          string
		yaw, sd, want []float64
	}{
		{"alone", []float64{7}, []float64{3}, []float64{7}},
		{"certain ones stay", []float64{2, 6}, []float64{0, 0}, []float64{2, 6}},
		{"open ones meet half way to the centre", []float64{2, 6}, []float64{remountSDDeg, remountSDDeg}, []float64{3, 5}},
		{"across north", []float64{179, -179}, []float64{remountSDDeg, remountSDDeg}, []float64{179.5, -179.5}},
		{"an open one goes to a certain one", []float64{0, 10}, []float64{0, 1000}, []float64{0, 0}},
	} {
		got := shareYaw(c.yaw, c.sd)
		for i := range got {
			if d := bearing.Diff(got[i], c.want[i]); math.Abs(d) > 1e-3 {
				t.Errorf("%s: shareYaw(%v, %v) = %v, want %v", c.name, c.yaw, c.sd, got, c.want)
			}
		}
	}
}

// Turning every mount turns every answer: no yaw is special.
func TestShareYawTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "revisions")
		turn := rapid.Float64Range(-360, 360).Draw(t, "turn")
		yaw, turned, sd := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			yaw[i] = rapid.Float64Range(-20, 20).Draw(t, "yaw")
			turned[i] = bearing.Wrap180(yaw[i] + turn)
			sd[i] = rapid.Float64Range(0, 5).Draw(t, "sd")
		}
		a, b := shareYaw(yaw, sd), shareYaw(turned, sd)
		for i := range n {
			if d := bearing.Diff(b[i], a[i]+turn); math.Abs(d) > 1e-6 {
				t.Fatalf("turned by %g: %v, not turned: %v", turn, b, a)
			}
		}
	})
}

// Two revisions of one rig, each struck by one striker whose aim leans, are
// drawn together; precise labels are not.
func TestYawsOfRevisions(t *testing.T) {
	out := []RigYaw{
		{Rig: "yard-r1", YawDeg: 4, Labels: 100, Scatter: 8},
		{Rig: "hall-r1", YawDeg: -9, Labels: 100, Scatter: 8},
		{Rig: "yard-r2", YawDeg: 1, Labels: 100, Scatter: 8},
	}
	one := func() map[string]bool { return map[string]bool{"s": true} }
	shareAmongRevisions(out, []string{"yard", "hall", "yard"}, []map[string]bool{one(), one(), one()})
	if a, b := out[0].YawDeg, out[2].YawDeg; !(a < 4 && b > 1 && a > b) || math.Abs(a+b-5) > 1e-9 {
		t.Errorf("yard's yaws 4 and 1 became %g and %g", a, b)
	}
	if out[1].YawDeg != -9 {
		t.Errorf("another rig's yaw -9 became %g", out[1].YawDeg)
	}
}
