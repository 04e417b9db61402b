package features_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/features/featurestest"
)

// window makes a window of noise and a push, from a seed.
func window(seed uint64, rateHz, preMs, postMs float64) *dataset.Window {
	rng := rand.New(rand.NewPCG(seed, 1))
	pre, post := int(math.Ceil(preMs*rateHz/1000)), int(math.Ceil(postMs*rateHz/1000))
	w := &dataset.Window{RateHz: rateHz, Pre: pre}
	for k := range 3 {
		w.A[k], w.G[k] = make([]float64, pre+post), make([]float64, pre+post)
	}
	push, tip := bearing.Unit(360*rng.Float64())*30, bearing.Unit(360*rng.Float64())
	for i := range pre + post {
		ms := 1000 * float64(i-pre) / rateHz
		var z, r complex128
		if ms >= 0 {
			if ms < 20 {
				z = push * complex(math.Sin(math.Pi*ms/20), 0)
			}
			r = tip * complex(min(ms/20, 1), 0)
		}
		for k, v := range []float64{imag(z), real(z), 9.8} {
			w.A[k][i] = v + rng.NormFloat64()
		}
		for k, v := range []float64{-real(r), imag(r), min(max(ms/20, 0), 1)} {
			w.G[k][i] = v + 0.1*rng.NormFloat64()
		}
	}
	return w
}

// mapped applies f to every reading of a copy.
func mapped(w *dataset.Window, f func(a, g [3]float64) (a2, g2 [3]float64)) *dataset.Window {
	out := &dataset.Window{RateHz: w.RateHz, Pre: w.Pre}
	n := len(w.A[0])
	for k := range 3 {
		out.A[k], out.G[k] = make([]float64, n), make([]float64, n)
	}
	for i := range n {
		a, g := f([3]float64{w.A[0][i], w.A[1][i], w.A[2][i]}, [3]float64{w.G[0][i], w.G[1][i], w.G[2][i]})
		for k := range 3 {
			out.A[k][i], out.G[k][i] = a[k], g[k]
		}
	}
	return out
}

func row(w *dataset.Window) features.Row {
	return features.Extract(w, featurestest.Rig(w.RateHz), nil)
}

// near demands agreement to 1e-9 of the larger size, or of 1 for small values.
func near(a, b complex128) bool {
	return cmplx.Abs(a-b) <= 1e-9*max(1, cmplx.Abs(a), cmplx.Abs(b))
}

func rates(t *rapid.T) float64 {
	return rapid.SampledFrom([]float64{400, 800, 1000, 1600}).Draw(t, "rate")
}

// Turning the recording turns each vector and leaves each scalar.
func TestTurning(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := window(rapid.Uint64().Draw(t, "seed"), rates(t), 300, 350)
		deg := rapid.Float64Range(-180, 180).Draw(t, "deg")
		by := bearing.Unit(deg)
		turned := mapped(w, func(a, g [3]float64) (a2, g2 [3]float64) {
			// A vector that points to a bearing turns like y + i x.
			turn := func(v [3]float64) [3]float64 {
				z := complex(v[1], v[0]) * by
				return [3]float64{imag(z), real(z), v[2]}
			}
			return turn(a), turn(g)
		})
		one, two := row(w), row(turned)
		for _, d := range features.All() {
			if d.Vector {
				if want, got := one.Vector(d.Name)*by, two.Vector(d.Name); !near(want, got) {
					t.Errorf("%s is %v, want %v", d.Name, got, want)
				}
			} else if want, got := one.Scalar(d.Name), two.Scalar(d.Name); !near(complex(want, 0), complex(got, 0)) {
				t.Errorf("%s is %v, want %v", d.Name, got, want)
			}
		}
	})
}

// A mirrored recording has mirrored vectors; scalars stay or change sign as
// declared. Rates are axial: the mirror image turns the other way.
func TestMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := window(rapid.Uint64().Draw(t, "seed"), rates(t), 300, 350)
		m := mapped(w, func(a, g [3]float64) (a2, g2 [3]float64) {
			return [3]float64{-a[0], a[1], a[2]}, [3]float64{g[0], -g[1], -g[2]}
		})
		one, two := row(w), row(m)
		for _, d := range features.All() {
			if d.Vector {
				if want, got := cmplx.Conj(one.Vector(d.Name)), two.Vector(d.Name); !near(want, got) {
					t.Errorf("%s is %v, want %v", d.Name, got, want)
				}
				continue
			}
			want, got := one.Scalar(d.Name), two.Scalar(d.Name)
			if d.Odd {
				want = -want
			}
			if !near(complex(want, 0), complex(got, 0)) {
				t.Errorf("%s is %v, want %v", d.Name, got, want)
			}
		}
	})
}

// A longer window changes no value, bit for bit, and a window that is too short
// for a feature gives NaN for it and nothing else.
func TestWindowLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rates(t)
		w := window(rapid.Uint64().Draw(t, "seed"), rate, 300, 350)
		preMs := rapid.SampledFrom([]float64{0, 10, 25, 60, 150, 300}).Draw(t, "pre")
		postMs := rapid.SampledFrom([]float64{0, 5, 18, 25, 32, 35, 50, 65, 100, 350}).Draw(t, "post")
		pre, post := int(math.Ceil(preMs*rate/1000)), int(math.Ceil(postMs*rate/1000))
		short := &dataset.Window{RateHz: rate, Pre: pre}
		for k := range 3 {
			short.A[k] = w.A[k][w.Pre-pre : w.Pre+post]
			short.G[k] = w.G[k][w.Pre-pre : w.Pre+post]
		}
		long, got := row(w), row(short)
		at := 0
		for _, d := range features.All() {
			n := 1
			if d.Vector {
				n = 2
			}
			inside := -d.FromMs*rate/1000 <= float64(pre)+1e-6 && d.ToMs*rate/1000 <= float64(post)+1e-6
			for i := at; i < at+n; i++ {
				switch {
				case inside && got[i] != long[i]:
					t.Errorf("%s is %g in a window of -%g to %g ms and %g in a longer one", d.Name, got[i], preMs, postMs, long[i])
				case !inside && !math.IsNaN(got[i]):
					t.Errorf("%s is %g in a window of -%g to %g ms, though it reads %g to %g", d.Name, got[i], preMs, postMs, d.FromMs, d.ToMs)
				}
			}
			if got.Has(d.Name) != inside {
				t.Errorf("Has(%s) is %v", d.Name, got.Has(d.Name))
			}
			at += n
		}
	})
}

// Values are finite wherever the sensor exists, also when nothing moves.
func TestFinite(t *testing.T) {
	still := mapped(window(1, 800, 300, 350), func(a, g [3]float64) ([3]float64, [3]float64) {
		return [3]float64{0, 0, dataset.StandardGravity}, [3]float64{}
	})
	for name, w := range map[string]*dataset.Window{"still": still, "strike": window(2, 800, 300, 350)} {
		full := row(w)
		bare := &dataset.Window{RateHz: w.RateHz, Pre: w.Pre, A: w.A}
		half := row(bare)
		for i, c := range features.Columns() {
			if math.IsNaN(full[i]) || math.IsInf(full[i], 0) {
				t.Errorf("%s: %s is %g", name, c.Name, full[i])
			}
			needs := features.All()[c.Def].NeedsGyro
			if needs != math.IsNaN(half[i]) || !needs && half[i] != full[i] {
				t.Errorf("%s without gyroscope: %s is %g, with it %g", name, c.Name, half[i], full[i])
			}
		}
	}
}

// Twice the strike: vectors, forces and rates double, the rest stays.
func TestGain(t *testing.T) {
	w := window(3, 1000, 300, 350)
	double := mapped(w, func(a, g [3]float64) ([3]float64, [3]float64) {
		for k := range 3 {
			a[k], g[k] = 2*a[k], 2*g[k]
		}
		a[2] -= dataset.StandardGravity // the pull of the earth does not double
		return a, g
	})
	one, two := row(w), row(double)
	for i, c := range features.Columns() {
		want := one[i]
		switch c.Unit {
		case "m/s", "m/s2", "rad/s":
			want *= 2
		}
		if !near(complex(want, 0), complex(two[i], 0)) {
			t.Errorf("%s (%s) is %g, want %g", c.Name, c.Unit, two[i], want)
		}
	}
}

// A free rigid body struck at a known place gives back force, height and how
// far the push passed the axis. Momentum J at height h above the centre of
// mass: v = J/m, w = h J/I, and about the axis J R sin(delta)/Iz.
func TestFreeBody(t *testing.T) {
	for _, rate := range []float64{400, 1000} {
		rg := featurestest.Rig(rate)
		in := rg.Inertia()
		m, k := rg.Bag.MassKg, in.RadiusOfGyrationM
		s := in.CentreOfMassDepthM - rg.Sensor.DepthM
		const ns, height, sine = 25.0, 0.22, 0.3
		push := -bearing.Unit(70)
		v := push * complex(ns/m, 0)
		tip := push * complex(ns*height/(m*k*k), 0)
		spin := ns * rg.Bag.DiameterM / 2 * sine / in.TwistKgM2
		w := mapped(window(1, rate, 300, 350), func([3]float64, [3]float64) ([3]float64, [3]float64) {
			return [3]float64{0, 0, dataset.StandardGravity}, [3]float64{}
		})
		n := int(0.02 * rate) // contact of 20 ms, even push
		for i := w.Pre; i < len(w.A[0]); i++ {
			part := min(float64(i-w.Pre+1)/float64(n), 1)
			if i < w.Pre+n {
				a := (v + tip*complex(s, 0)) * complex(rate/float64(n), 0)
				w.A[0][i], w.A[1][i] = imag(a), real(a)
			}
			w.G[0][i], w.G[1][i], w.G[2][i] = -real(tip)*part, imag(tip)*part, spin*part
		}
		r := features.Row(features.Extract(w, rg, nil))
		for _, c := range []struct {
			name      string
			got, want complex128
		}{
			{"kick", r.Vector("kick"), v + tip*complex(s, 0)},
			{"tip", r.Vector("tip"), tip},
			{"centre_kick", r.Vector("centre_kick"), v},
			{"lever", complex(r.Scalar("lever"), 0), height},
			{"oblique", complex(r.Scalar("oblique"), 0), sine},
			{"twist", complex(r.Scalar("twist"), 0), complex(spin, 0)},
			{"lift", complex(r.Scalar("lift"), 0), 0},
			{"rectilinearity", complex(r.Scalar("rectilinearity"), 0), 1},
		} {
			if cmplx.Abs(c.got-c.want) > 1e-9 {
				t.Errorf("rate %g: %s is %v, want %v", rate, c.name, c.got, c.want)
			}
		}
		if got := bearing.Of(-r.Vector("principal_axis")); math.Abs(bearing.Diff(got, 70)) > 1e-6 {
			t.Errorf("rate %g: principal axis points from %g, want 70", rate, got)
		}
	}
}

// Means weigh the samples at the edges by the part inside. Worked by hand for
// 400 Hz, 2.5 ms a sample: -1 to 4 ms is 0.4 of sample -1, sample 0, and 0.6 of
// sample 1.
func TestMeansWeighTheirEdges(t *testing.T) {
	w := mapped(window(1, 400, 300, 350), func([3]float64, [3]float64) ([3]float64, [3]float64) {
		return [3]float64{}, [3]float64{}
	})
	w.A[0][w.Pre-1], w.A[0][w.Pre], w.A[0][w.Pre+1], w.A[0][w.Pre+2] = 10, 100, 1000, 1e6
	if got, want := imag(row(w).Vector("accel_m1_4")), (0.4*10+100+0.6*1000)/2; math.Abs(got-want) > 1e-9 {
		t.Errorf("mean from -1 to 4 ms is %g, want %g", got, want)
	}
	// Kick: -3 to 22 ms is 0.2 of sample -2, then samples -1 to 7, 0.8 of 8.
	for i := range w.A[0] {
		w.A[0][i] = 0
	}
	w.A[0][w.Pre-2], w.A[0][w.Pre+7], w.A[0][w.Pre+8], w.A[0][w.Pre+9] = 1, 10, 100, 1e6
	if got, want := imag(row(w).Vector("kick")), (0.2*1+10+0.8*100)*0.0025; math.Abs(got-want) > 1e-12 {
		t.Errorf("kick is %g, want %g", got, want)
	}
}

// Width and rise of a triangle, by hand.
func TestPulseShape(t *testing.T) {
	const rate = 1000
	w := mapped(window(1, rate, 300, 350), func([3]float64, [3]float64) ([3]float64, [3]float64) {
		return [3]float64{}, [3]float64{}
	})
	for i := range 10 { // rises to 50 at 10 ms, falls to 0 at 30
		w.A[1][w.Pre+i] = -5 * float64(i)
	}
	for i := 10; i < 30; i++ {
		w.A[1][w.Pre+i] = -50 + 2.5*float64(i-10)
	}
	r := row(w)
	if got := r.Scalar("contact_ms"); math.Abs(got-15) > 1e-9 {
		t.Errorf("width at half height is %g ms, want 15", got)
	}
	if got := r.Scalar("rise_ms"); math.Abs(got-8) > 1e-9 {
		t.Errorf("rise from 10 to 90 %% is %g ms, want 8", got)
	}
	if got := r.Vector("peak"); got != -50 {
		t.Errorf("peak is %v, want -50 toward bearing 0", got)
	}
}

func TestDefinitions(t *testing.T) {
	seen := map[string]bool{}
	columns := 0
	for _, d := range features.All() {
		switch {
		case seen[d.Name] || !features.Known(d.Name):
			t.Errorf("%s: named twice or not known", d.Name)
		case d.Doc == "" || strings.HasSuffix(d.Doc, "."):
			t.Errorf("%s: doc %q", d.Name, d.Doc)
		case d.FromMs >= d.ToMs:
			t.Errorf("%s: reads %g to %g ms", d.Name, d.FromMs, d.ToMs)
		case d.Board == (d.NotBoard != ""):
			t.Errorf("%s: board %v, but %q", d.Name, d.Board, d.NotBoard)
		case d.Macs <= 0:
			t.Errorf("%s: costs %d", d.Name, d.Macs)
		case d.Vector && d.Odd:
			t.Errorf("%s: a vector cannot be odd", d.Name)
		}
		seen[d.Name] = true
		columns++
		if d.Vector {
			columns++
		}
	}
	if got := len(features.Columns()); got != columns {
		t.Errorf("%d columns, want %d", got, columns)
	}
	pre, post := features.Longest()
	if pre != 300 || post != 350 {
		t.Errorf("all features together need %g and %g ms", pre, post)
	}
	if got := features.ToMs("kick", "tip"); got != 32 {
		t.Errorf("kick and tip read to %g ms", got)
	}
}

func TestProgrammersMistakesPanic(t *testing.T) {
	w := window(1, 400, 300, 350)
	r := row(w)
	for name, f := range map[string]func(){
		"unknown feature":  func() { r.Scalar("kik") },
		"vector as scalar": func() { r.Scalar("kick") },
		"scalar as vector": func() { r.Vector("twist") },
		"short row":        func() { features.Extract(w, featurestest.Rig(400), make([]float64, 3)) },
	} {
		func() {
			defer func() {
				if v := recover(); v == nil || !strings.HasPrefix(fmt.Sprint(v), "features: ") {
					t.Errorf("%s: %v", name, v)
				}
			}()
			f()
		}()
	}
}

// The feature vector of one simulated strike, through chain and features.
func TestGoldenStrike(t *testing.T) {
	rg := featurestest.Rig(1000)
	s := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.045, Seed: 12,
		Swings: []featurestest.Swing{{Hz: 0.42, BearingDeg: 200, MPS2: 1, Radps: 0.2}},
		Blows:  []featurestest.Blow{{AtS: 0.5, BearingDeg: 75, PeakMPS2: 70, TwistRadps: 1.5}}}
	windows, err := chain.Run(context.Background(), rg, s.Signal(rg, 1), chain.Options{PreMs: 300, PostMs: 350})
	if err != nil || len(windows) != 1 {
		t.Fatalf("%d windows, %v", len(windows), err)
	}
	r := features.Extract(windows[0], rg, nil)
	var b bytes.Buffer
	for i, c := range features.Columns() {
		fmt.Fprintf(&b, "%-26s %12.6f %s\n", c.Name, r[i], c.Unit)
	}
	datasettest.Golden(t, "strike.txt", b.Bytes())
}

func BenchmarkExtract(b *testing.B) {
	for _, rate := range []float64{400, 1600} {
		b.Run(fmt.Sprintf("rate=%g", rate), func(b *testing.B) {
			w, rg := window(1, rate, 300, 350), featurestest.Rig(rate)
			dst := make([]float64, len(features.Columns()))
			for b.Loop() {
				features.Extract(w, rg, dst)
			}
		})
	}
}
