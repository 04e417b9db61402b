package models

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// checkGradient compares an objective's gradient with central differences.
func checkGradient(t *testing.T, name string, f objective, at []float64) {
	t.Helper()
	got := make([]float64, len(at))
	f(at, got)
	scratch := make([]float64, len(at))
	want := fd.Gradient(nil, func(x []float64) float64 { return f(x, scratch) }, at, &fd.Settings{Formula: fd.Central})
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-5*(1+math.Abs(want[i])) {
			t.Errorf("%s: derivative %d is %g, by differences %g", name, i, got[i], want[i])
		}
	}
}

// invented makes strikes whose true weights differ from the rig's own.
func invented(n int, rng *rand.Rand) []strike {
	out := make([]strike, n)
	for i := range out {
		s := &out[i]
		b := rng.Float64() * 2 * math.Pi
		u := complex(math.Cos(b), math.Sin(b))
		tilt := complex(1, 0.3*rng.NormFloat64())
		s.own = unit(u * tilt)
		s.z = []complex128{u * complex(rng.NormFloat64(), rng.NormFloat64()), u * complex(1+rng.NormFloat64(), rng.NormFloat64())}
		s.odd = []float64{rng.NormFloat64()}
		s.even = []float64{rng.NormFloat64()}
		q := s.own + 0.2*s.z[0] - 0.1*s.z[1] + s.own*complex(0, 0.15*s.odd[0])
		s.targetRad = math.Atan2(imag(q), real(q)) + 0.05
		s.ownLever = s.own * complex(0.2*rng.NormFloat64(), 0)
		v := unit(q)
		s.heightM = (along(s.ownLever, v) + 0.03*along(s.z[0], v)) / math.Max(along(s.own, v), floorShare)
		s.weightB, s.weightH = 1, 1
	}
	return out
}

func TestGradients(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	strikes := invented(12, rng)
	first := []float64{0.02, -0.03}
	columns := make([][]complex128, len(strikes))
	own := make([]complex128, len(strikes))
	parts := make([][]float64, len(strikes))
	top, bottom := make([]float64, len(strikes)), make([]float64, len(strikes))
	for i := range strikes {
		columns[i], own[i] = strikes[i].lean(first)
		v := unit(own[i])
		parts[i] = []float64{along(strikes[i].z[0], v), along(strikes[i].z[1], v), strikes[i].even[0]}
		top[i], bottom[i] = along(strikes[i].ownLever, v), along(strikes[i].own, v)
	}
	at := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = 0.1 * rng.NormFloat64()
		}
		return x
	}
	checkGradient(t, "push", pushLoss(strikes, columns, own, 1), at(5))
	checkGradient(t, "height", heightLoss(strikes, parts, top, bottom, 1), at(7))
	var lessons []lesson
	for range 6 {
		lessons = append(lessons, lesson{in: at(3), want: at(2), weight: []float64{1, 0.5}})
	}
	checkGradient(t, "net", netLoss(lessons, 4, 0.1), at(4*4+2*5))
}

func TestFitFindsPlantedChanges(t *testing.T) {
	strikes := invented(300, rand.New(rand.NewPCG(5, 6)))
	miss := func(first, push []float64) (mean float64) {
		for i := range strikes {
			c, own := strikes[i].lean(first)
			q := sum(own, c, push)
			mean += math.Abs(bearing.Diff(bearing.Of(q), bearing.Deg(strikes[i].targetRad-0.05))) / float64(len(strikes))
		}
		return mean
	}
	yaw := startYaw(strikes, 1)
	first, err := fitFirst(strikes, yaw, 1)
	if err != nil {
		t.Fatal(err)
	}
	push, err := fitPush(t.Context(), strikes, first, yaw, 1)
	if err != nil {
		t.Fatal(err)
	}
	before, after := miss(make([]float64, 2), make([]float64, 4)), miss(first, push)
	if after > 0.5 || before < 5*after {
		t.Errorf("bearings missed by %.2f deg before and %.2f after the fit", before, after)
	}
	height, err := fitHeight(t.Context(), strikes, first, push, 1)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(height[0]-0.03) > 0.005 {
		t.Errorf("found a lever of %.4f, planted 0.03", height[0])
	}
}

func TestRidge(t *testing.T) {
	// By hand: one column of ones, two rows, targets 1 and 3, strength 2:
	// (1 + 3)/(2 + 2) = 1.
	got, err := ridge([][]float64{{1}, {1}}, []float64{1, 3}, 2)
	if err != nil || math.Abs(got[0]-1) > 1e-12 {
		t.Errorf("ridge = %v, %v; want 1", got, err)
	}
	if _, err := ridge(nil, nil, 1); err == nil {
		t.Error("ridge of nothing: no error")
	}
	if _, err := ridge([][]float64{{math.NaN()}}, []float64{1}, 1); err == nil {
		t.Error("ridge of NaN: no error")
	}
}

// rosenbrock is the classical banana valley (Rosenbrock 1960), least at (1, 1).
func rosenbrock(x, grad []float64) float64 {
	a, b := 1-x[0], x[1]-x[0]*x[0]
	grad[0], grad[1] = -2*a-400*x[0]*b, 200*b
	return a*a + 100*b*b
}

func TestMinimise(t *testing.T) {
	got, err := minimise(t.Context(), []float64{-1.2, 1}, rosenbrock, 200)
	if err != nil || math.Hypot(got[0]-1, got[1]-1) > 1e-3 {
		t.Errorf("minimise = %v, %v; want (1, 1)", got, err)
	}
	again, _ := minimise(t.Context(), []float64{-1.2, 1}, rosenbrock, 200)
	if got[0] != again[0] || got[1] != again[1] {
		t.Error("two runs differ")
	}
	if _, err := minimise(t.Context(), []float64{math.NaN(), 0}, rosenbrock, 5); err == nil {
		t.Error("a start without value: no error")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := minimise(ctx, []float64{-1.2, 1}, rosenbrock, 200); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestYawOffset(t *testing.T) {
	for _, c := range []struct {
		name string
		in   []float64
		want float64
	}{
		{"none", nil, 0},
		{"one", []float64{-7}, -7},
		{"across the seam", []float64{179, -179}, 180},
		{"a wrong face and a flip", []float64{3, 4, 5, 4, 3, 5, 64, 184, -56}, 4},
	} {
		if got, _ := yawOffset(c.in, nil); math.Abs(bearing.Diff(got, c.want)) > 1e-9 {
			t.Errorf("%s: yaw %g, want %g", c.name, got, c.want)
		}
	}
}

// Turning every difference turns the offset.
func TestYawOffsetTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SliceOfN(rapid.Float64Range(-30, 30), 1, 40).Draw(t, "differences")
		by := rapid.Float64Range(-180, 180).Draw(t, "by")
		turned := make([]float64, len(d))
		for i := range d {
			turned[i] = bearing.Wrap180(d[i] + by)
		}
		a, _ := yawOffset(d, nil)
		b, _ := yawOffset(turned, nil)
		if off := bearing.Diff(b-a, by); math.Abs(off) > 1e-6 {
			t.Fatalf("offsets %g and %g, turned by %g", a, b, by)
		}
	})
}

func TestUpper(t *testing.T) {
	sizes := []float64{9, 1, 8, 2, 7, 3, 6, 4, 5}
	for _, c := range []struct{ share, want float64 }{
		{0.5, 5},  // rank 5 of 9: ceil(0.5 x 10)
		{0.9, 9},  // rank 9
		{0.99, 9}, // beyond what nine can promise: the largest
		{0.05, 1},
	} {
		if got := upper(sizes, c.share); got != c.want {
			t.Errorf("upper(%g) = %g, want %g", c.share, got, c.want)
		}
	}
}

// A session is held back whole, but for the only one of a revision beside
// others', which is held back in two halves.
func TestFolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sessions := rapid.IntRange(1, 12).Draw(t, "sessions")
		each := rapid.IntRange(1, 19).Draw(t, "each")
		revisions := rapid.SliceOfN(rapid.IntRange(1, 3), sessions, sessions).Draw(t, "revisions")
		var ex []Example
		of1 := map[int]int{} // sessions of each revision
		for s, revision := range revisions {
			of1[revision]++
			r := &rig.Rig{Name: "bag", Revision: revision}
			for range each {
				ex = append(ex, Example{Input: Input{Rig: r}, Session: string(rune('a' + s))})
			}
		}
		of, n, how := folds(ex, 1)
		if len(ex) < leastToCalibrate {
			if n != 0 || how == "" {
				t.Fatalf("%d examples: %d folds", len(ex), n)
			}
			return
		}
		seen := map[string]map[int]bool{}
		held := make([]int, n)
		for i, e := range ex {
			held[of[i]]++
			if seen[e.Session] == nil {
				seen[e.Session] = map[int]bool{}
			}
			seen[e.Session][of[i]] = true
		}
		for s, revision := range revisions {
			most := 1
			if sessions == 1 {
				most = blockFolds
			} else if of1[revision] == 1 && each >= leastToCalibrate {
				most = 2
			}
			if got := len(seen[string(rune('a'+s))]); got > most {
				t.Fatalf("session %d lies in %d folds, want at most %d", s+1, got, most)
			}
		}
		for f, k := range held {
			if k == 0 || k == len(ex) {
				t.Fatalf("fold %d of %d holds back %d of %d", f, n, k, len(ex))
			}
		}
	})
}

func TestStepped(t *testing.T) {
	x := [][]float64{{5, 1}, {1, 1}, {3, 1}, {2, 1}, {4, 1}, {6, 1}}
	want := []float64{5, 2, 2, 2, 5, 5} // the means of 1, 2, 3 and of 4, 5, 6
	for i, row := range stepped(x, 2) {
		if row[0] != want[i] || row[1] != 1 {
			t.Errorf("row %d: %v, want %g", i, row, want[i])
		}
	}
	if got := stepped(x, 6); got[0][0] != 5 || &got[0][0] == &x[0][0] {
		t.Errorf("few rows: %v, want a copy", got)
	}
}

// Errors of a form that was picked on the very strikes are not those to come: each
// of two forms is good on the fold that would not pick it.
func TestUnpicked(t *testing.T) {
	errs := func(deg ...float64) []residual {
		var out []residual
		for _, d := range deg {
			out = append(out, residual{bearingDeg: d})
		}
		return out
	}
	of := []int{0, 1, 0, 1, 1}
	held := [][]residual{errs(1, 1, 9, 9, 9), errs(9, 9, 1, 1, 1)}
	if got := score("", unpicked(held, of, 2, false)).BearingMAEDeg; math.Abs(got-9) > 1e-12 {
		t.Errorf("errors of picking and using are %g, want 9", got)
	}
	if got := score("", unpicked(held[:1], of, 2, false)).BearingMAEDeg; got != score("", held[0]).BearingMAEDeg {
		t.Errorf("errors of the only form are %g, want its own", got)
	}
}

// BenchmarkNetLoss takes loss and gradient of a net of usual size over the lessons of
// two evenings: most of what training nets takes, and they most of a comparison.
func BenchmarkNetLoss(b *testing.B) {
	const inputs, outputs, units, strikes = 60, 3, 12, 200
	rng := rand.New(rand.NewPCG(3, 4))
	numbers := func(n int, scale float64) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = scale * rng.NormFloat64()
		}
		return x
	}
	var lessons []lesson
	for range 2 * strikes {
		lessons = append(lessons, lesson{in: numbers(inputs, 1), want: numbers(outputs, 1), weight: []float64{1, 1, 0.5}})
	}
	x := numbers(units*(inputs+1)+outputs*(units+1), 0.1)
	grad := make([]float64, len(x))
	f := netLoss(lessons, units, netDecay)
	for b.Loop() {
		f(x, grad)
	}
}
