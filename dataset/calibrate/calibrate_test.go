package calibrate_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"strikerose/dataset"
	"strikerose/dataset/calibrate"
	"strikerose/dataset/datasettest"
)

const g = dataset.StandardGravity

func TestOverlappingAllan(t *testing.T) {
	var ref struct {
		Small    map[int]struct{ OAdev float64 } `json:"small"`
		Large    map[int]struct{ OAdev float64 } `json:"large"`
		SmallSet []float64                       `json:"small_set_y"`
	}
	datasettest.Reference(t, "allan.json", &ref)
	// The 1000-point set: a linear congruential generator.
	large := make([]float64, 1000)
	n := int64(1234567890)
	for i := range large {
		large[i] = float64(n) / 2147483647
		n = n * 16807 % 2147483647
	}
	check := func(set string, x []float64, want map[int]struct{ OAdev float64 }) {
		if len(want) == 0 {
			t.Fatalf("%s: no reference values", set)
		}
		for m, w := range want {
			if got := calibrate.OverlappingAllan(x, m); !datasettest.Near(got/w.OAdev, 1, 1e-9) {
				t.Errorf("%s, m = %d: %.12g, want %.12g", set, m, got, w.OAdev)
			}
		}
	}
	check("NBS14", ref.SmallSet, ref.Small)
	check("1000 points", large, ref.Large)
	// As printed.
	for m, want := range map[int]float64{1: 2.922319e-1, 10: 9.159953e-2, 100: 3.241343e-2} {
		if got := calibrate.OverlappingAllan(large, m); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("1000 points, m = %d: %.7g, printed %.7g", m, got, want)
		}
	}
	if got := calibrate.OverlappingAllan(large, 501); !math.IsNaN(got) {
		t.Errorf("averages of more than half: %g, want none", got)
	}
}

// Of white noise the curve falls as 1/sqrt(tau), the density is what it was
// made with, and intervals hold the truth about nine times in ten.
func TestAllanOfWhiteNoise(t *testing.T) {
	const sd, rateHz, draws = 0.05, 200.0, 200
	within, total := map[float64]int{}, 0
	for draw := range draws {
		rng := rand.New(rand.NewPCG(uint64(draw), 1))
		x := make([]float64, 2000)
		for i := range x {
			x[i] = 9.8 + sd*rng.NormFloat64()
		}
		curve := calibrate.AllanCurve(x, rateHz)
		total++
		for _, p := range curve {
			want := sd / math.Sqrt(p.TauS*rateHz)
			if p.Low <= want && want <= p.High {
				within[p.TauS]++
			}
		}
		n, ok := calibrate.ReadNoise(curve)
		want := sd * math.Sqrt(2/rateHz)
		if !ok || math.Abs(n.Density/want-1) > 0.2 || math.Abs(n.Reading/sd-1) > 0.1 {
			t.Fatalf("draw %d: noise %+v, want a density of %g and readings of %g", draw, n, want, sd)
		}
	}
	if len(within) < 20 {
		t.Fatalf("%d averaging times", len(within))
	}
	for tau, n := range within {
		if share := float64(n) / float64(total); share < 0.82 || share > 0.97 {
			t.Errorf("averages of %.3f s: the 90 %% interval holds the truth in %.2f of draws", tau, share)
		}
	}
}

// A drift turns the curve up: the instability lies at the valley. White noise
// alone has none within the recording.
func TestBiasInstability(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	white, drift := make([]float64, 40000), make([]float64, 40000)
	walk := 0.0
	for i := range white {
		walk += 0.0005 * rng.NormFloat64()
		white[i] = 0.05 * rng.NormFloat64()
		drift[i] = white[i] + walk
	}
	n, _ := calibrate.ReadNoise(calibrate.AllanCurve(white, 100))
	if !n.InstabilityLimit {
		t.Errorf("white noise: %+v, want a limit only", n)
	}
	// Variance 0.05^2/m + 0.0005^2 m/3 is least at m = sqrt(3) 100.
	n, _ = calibrate.ReadNoise(calibrate.AllanCurve(drift, 100))
	want := math.Sqrt(2*0.0025/(100*math.Sqrt(3))) / 0.6643
	if n.InstabilityLimit || math.Abs(n.Instability/want-1) > 0.25 || n.InstabilityTauS < 0.6 || n.InstabilityTauS > 5 {
		t.Errorf("drifting: %+v, want about %g near 1.7 s", n, want)
	}
	if _, ok := calibrate.ReadNoise(nil); ok {
		t.Error("an empty curve is read")
	}
}

type accelReference struct {
	S        [3][3]float64 `json:"S"`
	B        [3]float64    `json:"b"`
	Raw      [][3]float64  `json:"raw_readings"`
	Inverse  [4][3]float64 `json:"inverse_12_param_W_(4x3)_a=[raw 1]W"`
	TestTrue [3]float64    `json:"test_true_a"`
	TestRaw  [3]float64    `json:"test_raw"`
	Noisy    struct {
		Raw [][3]float64  `json:"raw"`
		S   [3][3]float64 `json:"forward_fit_S"`
		B   [3]float64    `json:"forward_fit_b"`
		RMS float64       `json:"rms_residual"`
	} `json:"noisy"`
}

// poses makes poses of readings in g, 5 s each.
func poses(readings [][3]float64) []calibrate.Pose {
	var stills []calibrate.Still
	for _, r := range readings {
		stills = append(stills, calibrate.Still{Seconds: 5, Accel: [3]float64{r[0] * g, r[1] * g, r[2] * g}})
	}
	return calibrate.Poses(stills)
}

func correct(f calibrate.Fit, reading [3]float64) (v [3]float64) {
	for i := range v {
		for k := range reading {
			v[i] += f.Matrix[i][k] * (reading[k] - f.BiasMPS2[k])
		}
	}
	return v
}

func TestSixFaces(t *testing.T) {
	var ref accelReference
	datasettest.Reference(t, "accel_calibration.json", &ref)
	f := calibrate.Accelerometer(poses(ref.Raw))
	if f.From != calibrate.FromFaces || f.Used != 6 || f.Freedom != 6 || f.RMSMPS2 > 1e-9 || len(f.Notes) > 0 {
		t.Fatalf("fit %+v", f)
	}
	for i := range 3 {
		if math.Abs(f.BiasMPS2[i]/g-ref.B[i]) > 1e-12 {
			t.Errorf("bias of axis %d is %g g, want %g", i, f.BiasMPS2[i]/g, ref.B[i])
		}
		for j := range 3 {
			if want := ref.Inverse[j][i]; math.Abs(f.Matrix[i][j]-want) > 1e-12 {
				t.Errorf("matrix %d,%d is %.15g, want %.15g", i, j, f.Matrix[i][j], want)
			}
		}
	}
	got := correct(f, [3]float64{ref.TestRaw[0] * g, ref.TestRaw[1] * g, ref.TestRaw[2] * g})
	for k := range 3 {
		if math.Abs(got[k]/g-ref.TestTrue[k]) > 1e-12 {
			t.Errorf("test reading comes out as %v m/s2", got)
		}
	}

	noisy := calibrate.Accelerometer(poses(ref.Noisy.Raw))
	if math.Abs(noisy.RMSMPS2/g-ref.Noisy.RMS) > 1e-12 {
		t.Errorf("rms residual %.12g g, want %.12g", noisy.RMSMPS2/g, ref.Noisy.RMS)
	}
	for i := range 3 {
		if math.Abs(noisy.BiasMPS2[i]/g-ref.Noisy.B[i]) > 1e-12 {
			t.Errorf("noisy: bias of axis %d is %g g, want %g", i, noisy.BiasMPS2[i]/g, ref.Noisy.B[i])
		}
		for j := range 3 { // matrix times S is the identity
			sum := 0.0
			for k := range 3 {
				sum += noisy.Matrix[i][k] * ref.Noisy.S[k][j]
			}
			want := 0.0
			if i == j {
				want = 1
			}
			if math.Abs(sum-want) > 1e-12 {
				t.Errorf("noisy: matrix times S has %g at %d,%d", sum, i, j)
			}
		}
		// Textbook standard errors of six faces: s/sqrt(6) and s/sqrt(2).
		s := noisy.RMSMPS2 * math.Sqrt(18.0/6)
		if math.Abs(noisy.BiasSEMPS2[i]-s/math.Sqrt(6)) > 1e-12 || math.Abs(noisy.MatrixSE[i][i]-s/math.Sqrt2/g) > 1e-12 {
			t.Errorf("standard errors %v and %v of residuals of %g", noisy.BiasSEMPS2, noisy.MatrixSE, s)
		}
	}
}

// Fewer poses tell less, and that is said.
func TestFewPoses(t *testing.T) {
	var ref accelReference
	datasettest.Reference(t, "accel_calibration.json", &ref)
	for _, c := range []struct {
		name  string
		faces []int // of +x -x +y -y +z -z
		from  string
		note  string
	}{
		{"five", []int{0, 1, 2, 3, 4}, calibrate.FromFaces, "5 of six faces"},
		{"four with a pair", []int{0, 1, 2, 4}, calibrate.FromFaces, "4 of six faces"},
		{"two pairs", []int{0, 1, 2, 3}, calibrate.FromNothing, "4 poses do not tell"},
		{"three", []int{0, 2, 4}, calibrate.FromNothing, "3 poses do not tell"},
		{"one", []int{4}, calibrate.FromNothing, "one pose tells the size of its reading alone, 1.216 of standard gravity"},
		{"none", nil, calibrate.FromNothing, "never lay still"},
	} {
		var readings [][3]float64
		for _, i := range c.faces {
			readings = append(readings, ref.Raw[i])
		}
		f := calibrate.Accelerometer(poses(readings))
		if f.From != c.from || !strings.Contains(strings.Join(f.Notes, "; "), c.note) {
			t.Errorf("%s: from %s, notes %q; want from %s, note %q", c.name, f.From, f.Notes, c.from, c.note)
		}
		cal := f.Calibration()
		if told := cal.AccelBiasMPS2 != nil; told != (c.from != calibrate.FromNothing) {
			t.Errorf("%s: calibration %+v", c.name, cal)
		}
		if c.from == calibrate.FromFaces {
			for i := range 3 {
				if math.Abs(f.BiasMPS2[i]/g-ref.B[i]) > 1e-9 {
					t.Errorf("%s: bias %v", c.name, f.BiasMPS2)
				}
			}
		}
	}
}

// In poses of any kind the size of gravity tells bias and scales, whatever the
// poses, as long as they lie all around.
func TestSizesTellBiasAndScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		scale := [3]float64{1 + 0.03*rng.NormFloat64(), 1 + 0.03*rng.NormFloat64(), 1 + 0.03*rng.NormFloat64()}
		bias := [3]float64{0.3 * rng.NormFloat64(), 0.3 * rng.NormFloat64(), 0.3 * rng.NormFloat64()}
		var stills []calibrate.Still
		for i := range 30 { // a spiral over the sphere, turned by chance
			z := 1 - 2*(float64(i)+0.5)/30
			s, c := math.Sincos(2.39996*float64(i) + float64(rng.IntN(100)))
			v := [3]float64{c * math.Sqrt(1-z*z), s * math.Sqrt(1-z*z), z}
			var r [3]float64
			for k := range r {
				r[k] = v[k]*g/scale[k] + bias[k]
			}
			stills = append(stills, calibrate.Still{Seconds: 2, Accel: r})
		}
		f := calibrate.Accelerometer(calibrate.Poses(stills))
		if f.From != calibrate.FromSizes {
			t.Fatalf("fit from %s: %q", f.From, f.Notes)
		}
		for k := range 3 {
			// Poses within three degrees of each other are joined, which shortens
			// their mean a little.
			if math.Abs(f.Matrix[k][k]-scale[k]) > 1e-3 || math.Abs(f.BiasMPS2[k]-bias[k]) > 1e-2 {
				t.Fatalf("scales %v, bias %v; want %v, %v", f.Matrix, f.BiasMPS2, scale, bias)
			}
		}
	})
}

// Faces held at a tilt are told from level ones, and do not spoil the rest.
func TestTiltedFaces(t *testing.T) {
	var readings [][3]float64
	for i := range 6 {
		var v [3]float64
		v[i/2] = math.Cos(0.2) * float64(1-2*(i%2))
		v[(i/2+1)%3] = math.Sin(0.2)
		readings = append(readings, v)
	}
	f := calibrate.Accelerometer(poses(readings))
	if f.From == calibrate.FromFaces || !strings.Contains(strings.Join(f.Notes, "; "), "not square or not level") {
		t.Errorf("fit %+v", f)
	}
}

// recording is a sensor that lies still in poses, turned by a hand between.
func recording(rng *rand.Rand, rateHz float64, seconds, sd float64, held [][3]float64, gyro [3]float64) *dataset.Signal {
	sig := &dataset.Signal{}
	add := func(a, w [3]float64) {
		i := len(sig.TNs)
		sig.TNs, sig.TRaw = append(sig.TNs, int64(float64(i)*1e9/rateHz)), append(sig.TRaw, int64(i))
		sig.Segment = append(sig.Segment, 0)
		for k := range 3 {
			sig.A[k] = append(sig.A[k], float32(a[k]+sd*rng.NormFloat64()))
			sig.G[k] = append(sig.G[k], float32(w[k]+sd/20*rng.NormFloat64()))
		}
	}
	for _, h := range held {
		for range int(seconds * rateHz) {
			add(h, gyro)
		}
		for i := range int(1.5 * rateHz) {
			s := math.Sin(float64(i) / rateHz * 20)
			add([3]float64{h[0] + 3*s, h[1] - 2*s, h[2] + s}, [3]float64{s, 2 * s, -s})
		}
	}
	return sig
}

func TestStretches(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	held := [][3]float64{{0, 0, g}, {0, 0, -g}, {g, 0, 0.2}}
	bias := [3]float64{0.02, -0.01, 0.005}
	sig := recording(rng, 500, 4, 0.05, held, bias)
	stills := calibrate.Stretches(sig, 500)
	if len(stills) != 3 {
		t.Fatalf("%d stretches, want 3: %+v", len(stills), stills)
	}
	for i, s := range stills {
		if s.Seconds < 3 || s.Seconds > 4 {
			t.Errorf("stretch %d is %g s long, want nearly 4", i, s.Seconds)
		}
		for k := range 3 {
			if math.Abs(s.Accel[k]-held[i][k]) > 0.01 || math.Abs(s.Gyro[k]-bias[k]) > 0.001 {
				t.Errorf("stretch %d reads %v and %v", i, s.Accel, s.Gyro)
			}
		}
	}
	b, ok := calibrate.Gyroscope(stills)
	if !ok || b.SERadps == nil {
		t.Fatalf("gyroscope %+v", b)
	}
	for k := range 3 {
		if math.Abs(b.Radps[k]-bias[k]) > 6*b.SERadps[k]+1e-5 || b.SERadps[k] > 1e-3 {
			t.Errorf("gyroscope %+v, want %v", b, bias)
		}
	}
	curves := calibrate.Curves(sig, stills, 500)
	if n, ok := calibrate.ReadNoise(curves[0]); !ok || len(curves) != 6 || math.Abs(n.Reading-0.05) > 0.003 {
		t.Errorf("%d curves, noise %+v", len(curves), n)
	}

	// A new segment ends a stretch; a hand that never rests has none.
	for i := range sig.Segment[1000:] {
		sig.Segment[1000+i] = 1
	}
	if got := calibrate.Stretches(sig, 500); len(got) != 4 {
		t.Errorf("%d stretches across a segment's end, want 4", len(got))
	}
	for i := range sig.Len() {
		sig.A[0][i] += float32(2 * math.Sin(float64(i)/10))
	}
	if got := calibrate.Stretches(sig, 500); len(got) != 0 {
		t.Errorf("%d stretches in a hand, want none", len(got))
	}
	if got := calibrate.Stretches(&dataset.Signal{}, 500); got != nil {
		t.Errorf("%d stretches of nothing", len(got))
	}
	if _, ok := calibrate.Gyroscope(nil); ok {
		t.Error("a bias of nothing")
	}
}
