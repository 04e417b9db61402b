package rig_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// near fails the test when a value differs from the one wanted.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !datasettest.Near(got, want, 1e-9) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// The textbook's cylinder, thick tube and thin shell, made of bag, core and
// cover.
func TestInertiaAgainstReference(t *testing.T) {
	var ref struct {
		Cylinder struct {
			M, R, L    float64
			Axial      float64 `json:"I_axial"`
			Transverse float64 `json:"I_transverse_cm"`
			ShellAxial float64 `json:"thin_shell_I_axial"`
			ShellTrans float64 `json:"thin_shell_I_transverse"`
		}
		Hollow struct {
			M, L       float64
			ROut       float64 `json:"R_out"`
			RIn        float64 `json:"R_in"`
			Axial      float64 `json:"I_axial"`
			Transverse float64 `json:"I_transverse_cm"`
		} `json:"hollow_cylinder"`
	}
	datasettest.Reference(t, "physics.json", &ref)
	c := ref.Cylinder
	across := func(r *rig.Rig) float64 {
		in := r.Inertia()
		return r.Bag.MassKg * in.RadiusOfGyrationM * in.RadiusOfGyrationM
	}

	even := &rig.Rig{Bag: rig.Bag{MassKg: c.M, LengthM: c.L, DiameterM: 2 * c.R}}
	near(t, "cylinder, along", even.Inertia().TwistKgM2, c.Axial)
	near(t, "cylinder, across", across(even), c.Transverse)
	near(t, "cylinder, centre", even.Inertia().CentreOfMassDepthM, c.L/2)

	// A core as dense as the filling changes nothing.
	even.Core = &rig.Core{MassKg: c.M * 0.5 * 0.25, LengthM: c.L / 2, DiameterM: c.R, TopDepthM: 0.1}
	near(t, "even core, along", even.Inertia().TwistKgM2, c.Axial)
	near(t, "even core, across", across(even), c.Transverse)
	near(t, "even core, centre", even.Inertia().CentreOfMassDepthM, c.L/2)

	// A core without mass over the whole length leaves a thick tube.
	h := ref.Hollow
	tube := &rig.Rig{Bag: rig.Bag{MassKg: h.M, LengthM: h.L, DiameterM: 2 * h.ROut},
		Core: &rig.Core{LengthM: h.L, DiameterM: 2 * h.RIn}}
	near(t, "tube, along", tube.Inertia().TwistKgM2, h.Axial)
	near(t, "tube, across", across(tube), h.Transverse)

	shell := &rig.Rig{Bag: rig.Bag{MassKg: c.M, LengthM: c.L, DiameterM: 2 * c.R, CoverMassKg: c.M}}
	near(t, "shell, along", shell.Inertia().TwistKgM2, c.ShellAxial)
	near(t, "shell, across", across(shell), c.ShellTrans)
}

func TestGivenValuesWin(t *testing.T) {
	com, k := 0.41, 0.3
	r := &rig.Rig{Bag: rig.Bag{MassKg: 30, LengthM: 1, DiameterM: 0.3}}
	if in := r.Inertia(); !in.Estimated || in.CentreOfMassDepthM != 0.5 {
		t.Errorf("inertia without given values: %+v, want an estimate at 0.5", in)
	}
	r.Bag.CentreOfMassDepthM = &com
	if in := r.Inertia(); !in.Estimated || in.CentreOfMassDepthM != com {
		t.Errorf("inertia with a given centre: %+v, want an estimate at %g", in, com)
	}
	r.Bag.RadiusOfGyrationM = &k
	if in := r.Inertia(); in.Estimated || in.CentreOfMassDepthM != com || in.RadiusOfGyrationM != k {
		t.Errorf("inertia with both given: %+v, want %g and %g", in, com, k)
	}
}

// Summing small cubes of a bag with core, filling and cover gives the same.
func TestInertiaBySumming(t *testing.T) {
	r := &rig.Rig{
		Bag:  rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.36, CoverMassKg: 2},
		Core: &rig.Core{MassKg: 19, LengthM: 0.6, DiameterM: 0.16, TopDepthM: 0.1},
	}
	const rings, slices = 360, 500
	coreVolume := math.Pi * 0.08 * 0.08 * 0.6
	restVolume := math.Pi*0.18*0.18*1 - coreVolume
	var m, mz, mzz, mrr float64
	for i := range rings {
		lo, hi := 0.18*float64(i)/rings, 0.18*float64(i+1)/rings
		area, rr := math.Pi*(hi*hi-lo*lo), (hi*hi+lo*lo)/2
		for j := range slices {
			z := (float64(j) + 0.5) / slices
			density := 14 / restVolume
			if hi <= 0.08+1e-12 && z > 0.1 && z < 0.7 {
				density = 19 / coreVolume
			}
			dm := density * area / slices
			m, mz, mzz, mrr = m+dm, mz+dm*z, mzz+dm*z*z, mrr+dm*rr
			if i == rings-1 { // the cover
				dm = 2.0 / slices
				m, mz, mzz, mrr = m+dm, mz+dm*z, mzz+dm*z*z, mrr+dm*0.18*0.18
			}
		}
	}
	depth := mz / m
	k := math.Sqrt((mzz-m*depth*depth)/m + mrr/2/m)
	in := r.Inertia()
	for _, c := range []struct {
		what           string
		got, want, tol float64
	}{
		{"centre", in.CentreOfMassDepthM, depth, 1e-9},
		{"radius of gyration", in.RadiusOfGyrationM, k, 1e-6},
		{"twist", in.TwistKgM2, mrr, 1e-9},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s = %.9g, want %.9g by summing", c.what, c.got, c.want)
		}
	}
}

// Turning a bag upside down mirrors its centre of mass and nothing else.
func TestInertiaMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(0.1, 0.9).Draw(t, "core length")
		top := rapid.Float64Range(0, 1).Draw(t, "top") * (1 - length)
		r := &rig.Rig{Bag: rig.Bag{MassKg: 40, LengthM: 1, DiameterM: 0.4, CoverMassKg: rapid.Float64Range(0, 5).Draw(t, "cover")},
			Core: &rig.Core{MassKg: rapid.Float64Range(1, 34).Draw(t, "core"), LengthM: length, DiameterM: 0.2, TopDepthM: top}}
		a := r.Inertia()
		r.Core.TopDepthM = 1 - length - top
		b := r.Inertia()
		if math.Abs(a.CentreOfMassDepthM+b.CentreOfMassDepthM-1) > 1e-9 || math.Abs(a.RadiusOfGyrationM-b.RadiusOfGyrationM) > 1e-9 || math.Abs(a.TwistKgM2-b.TwistKgM2) > 1e-9 {
			t.Fatalf("upside down %+v becomes %+v", a, b)
		}
	})
}
