package models

import (
	"math"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// swung is a window of a bag that swings and is pushed once, and its rig.
func swung() (*dataset.Window, *rig.Rig) {
	r := &rig.Rig{
		Name: "hall", Revision: 1, Faces: 6, Bag: rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.35},
		Hang: rig.Hang{ChainM: 0.48, StrapM: 0.08}, Sensor: rig.Sensor{DepthM: 0.2, RateHz: 500},
	}
	w := &dataset.Window{RateHz: 500, Pre: 100}
	for i := range 300 {
		t := float64(i-w.Pre) / w.RateHz
		push := 0.0
		if t >= 0 && t < 0.02 {
			push = -40 * math.Sin(math.Pi*t/0.02)
		}
		w.A[0] = append(w.A[0], 0.3*push+0.2*math.Sin(9*t))
		w.A[1] = append(w.A[1], push+math.Cos(3*t))
		w.A[2] = append(w.A[2], 9.8)
	}
	return w, r
}

func TestPlacings(t *testing.T) {
	w, r := swung()
	in := Input{Rig: r, Window: w}
	for _, ms := range []float64{0, 60, 120} {
		p := &placings{withinMs: ms}
		want := p.of(in)
		if err := p.learn(t.Context(), []Example{{Input: in}, {Input: Input{Rig: r}}}); err != nil {
			t.Fatal(err)
		}
		if len(p.known) != 1 || p.of(in) != want || !want.Whole {
			t.Errorf("within %g ms: %d kept; %+v, solved anew %+v", ms, len(p.known), p.of(in), want)
		}
		other := *r
		other.Bag.MassKg, other.Sensor.DepthM = 2*r.Bag.MassKg, 0.5*r.Sensor.DepthM
		moved := Input{Rig: &other, Window: w}
		if got, anew := p.of(moved), placed(moved, ms); got != anew || got == want {
			t.Errorf("within %g ms, on another rig: %+v, solved anew %+v", ms, got, anew)
		}
	}
	short, long := placed(in, 60), placed(Input{Rig: r, Window: upTo(w, 60)}, 0)
	if short != long || short == placed(in, 0) {
		t.Errorf("within 60 ms %+v, of a window cut there %+v, of all of it %+v", short, long, placed(in, 0))
	}
}

func TestUpTo(t *testing.T) {
	w, _ := swung()
	for _, c := range []struct {
		ms   float64
		want int
	}{{0, 300}, {60, 130}, {61, 131}, {400, 300}, {1000, 300}} {
		got := upTo(w, c.ms)
		if len(got.A[0]) != c.want || len(got.A[2]) != c.want || got.HasGyro() || len(w.A[0]) != 300 {
			t.Errorf("up to %g ms: %d samples, want %d", c.ms, len(got.A[0]), c.want)
		}
	}
}

func TestPlaceNumbersMirror(t *testing.T) {
	w, r := swung()
	m := *w
	m.A[0] = make([]float64, len(w.A[0]))
	for i, v := range w.A[0] {
		m.A[0][i] = -v
	}
	u := complex(0.6, 0.8)
	a := placeNumbers(placed(Input{Rig: r, Window: w}, 0), u, Input{Rig: r})
	b := placeNumbers(placed(Input{Rig: r, Window: &m}, 0), complex(0.6, -0.8), Input{Rig: r})
	if len(a) != placeColumns {
		t.Fatalf("%d numbers, not %d", len(a), placeColumns)
	}
	for i := range a {
		want := a[i]
		if i < placeOdd {
			want = -want
		}
		if math.Abs(b[i]-want) > 1e-9 {
			t.Errorf("number %d is %g, of the mirror image %g", i, a[i], b[i])
		}
	}
}

func TestStandard(t *testing.T) {
	rows := [][]float64{{2, 5, 7}, {-1, 7, 7}, {2, 9, 7}}
	s := standardOf(rows, func(column int) bool { return column == 0 })
	if s.Mean[0] != 0 || s.Mean[1] != 7 || s.Spread[0] != math.Sqrt(3) || s.Spread[2] != 1 {
		t.Errorf("mean %v and spread %v", s.Mean, s.Spread)
	}
	far := []float64{100, -100, 7}
	s.apply(far)
	if far[0] != heldSD || far[1] != -heldSD || far[2] != 0 {
		t.Errorf("far numbers become %v", far)
	}
	if s.check(3) != nil || s.check(2) == nil || (Standard{Mean: []float64{0}, Spread: []float64{0}}).check(1) == nil {
		t.Error("wrong shapes or spreads pass, or right ones do not")
	}
}
