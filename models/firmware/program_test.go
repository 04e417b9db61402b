package firmware

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
	"strikerose/models/golearn"
)

// bag is a rig with round numbers.
func bag() *rig.Rig {
	centre, gyration := 0.5, 0.25
	return &rig.Rig{
		Name: "bag", Revision: 3, Faces: 6,
		Bag:    rig.Bag{MassKg: 32, LengthM: 1, DiameterM: 0.5, CentreOfMassDepthM: &centre, RadiusOfGyrationM: &gyration},
		Hang:   rig.Hang{ChainM: 0.5, StrapM: 0.125},
		Sensor: rig.Sensor{DepthM: 0.125, RateHz: 1000, AccelRangeG: 16, GyroRangeDPS: 2000},
	}
}

func certainty() models.Stated {
	return models.Stated{Certainty: models.Certainty{Calibrated: true, How: "by hand", Strikes: 100, Sessions: 4,
		BearingSDDeg: 4, BearingHalf90Deg: 7.5, HeightSDM: 0.03125, HeightHalf90M: 0.0625}}
}

// handMade are small detectors with round numbers, one of each kind.
func handMade() map[string]source {
	elsewhere := certainty() // on a rig without labels
	elsewhere.MountSDDeg, elsewhere.Least = 3, models.Certainty{BearingSDDeg: 64, BearingHalf90Deg: 128, HeightSDM: 0.25, HeightHalf90M: 0.5}
	difficult := certainty()
	difficult.Difficulty = &models.Difficulty{
		Terms:   []string{"log peak", "log swing before", "vertical ratio", "oblique", "curved"},
		Weights: []float64{-0.25, 0.125, 0.5, 1, 2}, Mean: []float64{4, 0.5, 0.25, 0.125, 0.0625}, Low: 0.5, High: 4,
	}
	aligner := models.Aligner{
		Vectors: []string{"kick", "accel_before"}, Odd: []string{"twist"}, Even: []string{"lift"},
		Size: []float64{0.5, 2}, First: []float64{-1, 0.25},
		Mean: []float64{-0.5, 0, 0.25, 0, 0, 0.125}, Spread: []float64{0.5, 0.25, 1, 1, 2, 0.5},
	}
	return map[string]source{
		"peak-arctangent": {name: "peak-arctangent", parameters: &models.PeakArctangent{}, waitMs: 25, yawDeg: -2.5, yawKnown: true, certainty: difficult},
		"complex-ridge": {name: "complex-ridge", form: "few", waitMs: 65, yawDeg: 3, yawKnown: true, certainty: certainty(), parameters: &models.Ratio{
			Vectors: []string{"kick", "tip"}, Odd: []string{"twist"}, Even: []string{"lift"},
			First: []float64{-1, 0.375}, Push: []float64{-0.75, 0.25}, PushOdd: []float64{-0.0625}, PushEven: []float64{0.125},
			Top: []float64{0.03125, -0.0625}, TopEven: []float64{0.25}, Bottom: []float64{-1, 0.5}, BottomEven: []float64{0.5},
			FloorShare: 0.25, CentreM: 0.5, LengthM: 1,
		}},
		"accelerometer": {name: "complex-ridge", form: "accelerometer", waitMs: 65, certainty: elsewhere, parameters: &models.Accelerometer{
			Aligner: aligner, ScaleM: 0.0625, Nets: []*models.Net{
				{
					Hidden: [][]float64{{1, 0.5, 0, -0.25, 0.125, 0, 2}, {0, -1, 0.25, 0, 0, 0.5, -0.5}}, HiddenBias: []float64{0.25, -0.125},
					Out: [][]float64{{0.5, -0.25}, {1, 0.5}, {2, -1}}, OutBias: []float64{0.25, 4, 0.5},
				},
				{
					Hidden: [][]float64{{0.5, 0, 0.25, 0, -1, 0, 1}}, HiddenBias: []float64{0.5},
					Out: [][]float64{{1}, {0.25}, {-0.5}}, OutBias: []float64{0, 3, 0.25},
				},
			},
		}},
		"cart": {name: "cart", waitMs: 65, yawDeg: 1, yawKnown: true, certainty: certainty(), parameters: &models.Cart{
			Aligner: aligner,
			Sin:     []golearn.Node{{Feature: 1, Threshold: 0.5, Below: 1, Other: 2}, {Feature: -1, Value: -0.25}, {Feature: -1, Value: 0.25}},
			Cos:     []golearn.Node{{Feature: -1, Value: 0.875}},
			Height: []golearn.Node{{Feature: 0, Threshold: -0.25, Below: 1, Other: 4}, {Feature: 5, Threshold: 1, Below: 2, Other: 3},
				{Feature: -1, Value: -0.25}, {Feature: -1, Value: 0.125}, {Feature: -1, Value: 0.375}},
		}},
	}
}

// The text of every kind of detector; interface and table, which are alike, of
// one.
func TestGoldenCode(t *testing.T) {
	for name, s := range handMade() {
		r := bag()
		p, err := describe(s, r)
		if err != nil {
			t.Fatal(err)
		}
		table := p.table(s, r, models.Training{Seed: 1, Sessions: []string{"monday"}, Truth: "timed", Examples: 100}, Options{Tool: "strikerose test"}, TableVectors{Extreme: 1})
		datasettest.Golden(t, name+"/strikerose_table.h", p.numbers(&table))
		datasettest.Golden(t, name+"/strikerose_model.c", p.code(&table))
		if name != "peak-arctangent" {
			continue
		}
		text, err := table.encode()
		if err != nil {
			t.Fatal(err)
		}
		datasettest.Golden(t, name+"/table.json", text)
		datasettest.Golden(t, name+"/strikerose_model.h", p.header(&table))
	}
}

// The ratio's steps are models.Ratio.Answer, whatever the weights and also
// without odd or even scalars, worked out here by its formula.
func TestRatioSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weight := rapid.Float64Range(-2, 2)
		draw := func(names []string, what string) []float64 {
			return rapid.SliceOfN(weight, len(names), len(names)).Draw(t, what)
		}
		ratio := &models.Ratio{
			Vectors: []string{"kick", "tip", "accel_before", "rock_25_35"}[:rapid.IntRange(2, 4).Draw(t, "vectors")],
			Odd:     []string{"twist", "spin_4_8"}[:rapid.IntRange(0, 2).Draw(t, "odd")],
			Even:    []string{"lift", "vertical_4_8"}[:rapid.IntRange(0, 2).Draw(t, "even")],
			// A floor that keeps the height from being a ratio of roundings.
			FloorShare: 0.2, CentreM: 0.5, LengthM: 1,
		}
		ratio.First, ratio.Push = draw(ratio.Vectors, "first"), draw(ratio.Vectors, "push")
		ratio.Top, ratio.Bottom = draw(ratio.Vectors, "top"), draw(ratio.Vectors, "bottom")
		ratio.PushOdd, ratio.PushEven = draw(ratio.Odd, "push odd"), draw(ratio.Even, "push even")
		ratio.TopEven, ratio.BottomEven = draw(ratio.Even, "top even"), draw(ratio.Even, "bottom even")
		if rapid.Bool().Draw(t, "own") {
			ratio.First = ratio.Push
		}
		r := bag()
		p, err := describe(source{name: "complex-ridge", parameters: ratio, waitMs: 65, yawDeg: 10, yawKnown: true, certainty: certainty()}, r)
		if err != nil {
			t.Fatal(err)
		}
		in := rapid.SliceOfN(rapid.Float64Range(-3, 3), len(p.inputs), len(p.inputs)).Draw(t, "in")
		q, height, whole := ratio.Answer(p.row(in))
		if cmplx.Abs(q) < 1e-6 {
			return
		}
		got := p.run(in, exact)
		if off := bearing.Diff(got.BearingDeg, bearing.Of(q)+10); math.Abs(off) > 1e-6 || math.Abs(got.HeightM-height) > 1e-9 {
			t.Errorf("steps give %g and %g, the ratio %g and %g", got.BearingDeg, got.HeightM, bearing.Wrap360(bearing.Of(q)+10), height)
		}
		if want := r.FaceOf(got.BearingDeg); got.Face != want {
			t.Errorf("face of %g is %d, want %d", got.BearingDeg, got.Face, want)
		}
		if !whole {
			t.Error("the ratio misses something")
		}
	})
}

// Whatever the board gives, the answer is finite and in range, in float32.
func TestAnswersAreFinite(t *testing.T) {
	values := []float64{0, math.Copysign(0, -1), 1e-38, -1e-12, 1, -3, 1e4, -1e9, 1e9, 1.0000001e9, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat32}
	for name, s := range handMade() {
		p, err := describe(s, bag())
		if err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(1, 1))
		in := make([]float64, len(p.inputs))
		for range 5000 {
			for i := range in {
				in[i] = values[rng.IntN(len(values))]
			}
			e := p.run(in, toFloat32)
			for _, v := range []float64{e.HeightM, e.BearingSDDeg, e.BearingHalf90Deg, e.HeightSDM, e.HeightHalf90M} {
				if math.IsNaN(v) || v < 0 || v > 1e4 {
					t.Fatalf("%s: %v gives %+v", name, in, e)
				}
			}
			if !(e.BearingDeg >= 0 && e.BearingDeg < 360) || e.Face < 1 || e.Face > 6 {
				t.Fatalf("%s: %v gives %+v", name, in, e)
			}
		}
	}
}

// fullRidge reads every feature of the first 65 ms that a board can have, with
// random weights.
func fullRidge() source {
	ratio := &models.Ratio{FloorShare: 0.2, CentreM: 0.5, LengthM: 1}
	rng := rand.New(rand.NewPCG(4, 1))
	draw := func(list *[]float64) { *list = append(*list, rng.NormFloat64()) }
	for _, d := range features.All() {
		switch {
		case !d.Board || d.ToMs > 65:
		case d.Vector:
			ratio.Vectors = append(ratio.Vectors, d.Name)
			draw(&ratio.First)
			draw(&ratio.Push)
			draw(&ratio.Top)
			draw(&ratio.Bottom)
		case d.Odd:
			ratio.Odd = append(ratio.Odd, d.Name)
			draw(&ratio.PushOdd)
		default:
			ratio.Even = append(ratio.Even, d.Name)
			draw(&ratio.PushEven)
			draw(&ratio.TopEven)
			draw(&ratio.BottomEven)
		}
	}
	return source{name: "complex-ridge", form: "full", parameters: ratio, waitMs: 65, yawKnown: true, certainty: certainty()}
}

// Running the steps in float32 is what the compiled code does, but for the last
// bits of the functions of math.h. The vectors are random; what the run gives
// is what the check wants, within a few units in the last place.
func TestRunIsTheCode(t *testing.T) {
	cc := datasettest.RequireTool(t, "cc", "apt-get install gcc libc6-dev")
	all := handMade()
	all["full"] = fullRidge()
	for name, s := range all {
		r := bag()
		p, err := describe(s, r)
		if err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(3, 1))
		var vectors []vector
		for range 200 {
			v := vector{about: "random"}
			in := make([]float64, len(p.inputs))
			for i := range in {
				v.in = append(v.in, float32(2*rng.NormFloat64()))
				in[i] = float64(v.in[i])
			}
			got := p.run(in, toFloat32)
			v.want, v.face, v.unsure = got.Estimate, got.Face, int(truth(got.Unsure))
			vectors = append(vectors, v)
		}
		table := p.table(s, r, models.Training{}, Options{}, TableVectors{})
		dir := t.TempDir()
		check := strings.Replace(string(p.check(&table)), "#define TOLERANCE 0.0001", "#define TOLERANCE 0.000002", 1)
		for file, text := range map[string][]byte{
			fileHeader: p.header(&table), fileNumbers: p.numbers(&table), fileCode: p.code(&table),
			fileVectors: p.vectorsHeader(&table, vectors), fileCheck: []byte(check),
		} {
			if err := os.WriteFile(filepath.Join(dir, file), text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		program := filepath.Join(dir, "check")
		if out, err := exec.Command(cc, "-std=c99", "-O2", "-o", program, filepath.Join(dir, fileCheck), filepath.Join(dir, fileCode), "-lm").CombinedOutput(); err != nil {
			t.Fatalf("%s: cc: %v\n%s", name, err, out)
		}
		out, err := exec.Command(program).CombinedOutput()
		if err != nil || !strings.Contains(string(out), "all within 2e-06") {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
}

// A feature that cannot run on a board is refused with its reason, one that is
// merely offered is left out.
func TestFeaturesNotForBoards(t *testing.T) {
	var reason string
	for _, d := range features.All() {
		if d.Name == "rise_ms" {
			reason = d.NotBoard
		}
	}
	if reason == "" {
		t.Fatal("rise_ms can run on a board now: test another feature")
	}
	b := &builder{gyro: true, waitMs: 350}
	b.take("kick", "rise_ms")
	if len(b.faults) != 1 || b.faults[0].Error() != "feature rise_ms cannot run on a board: it "+reason {
		t.Errorf("faults are %v", b.faults)
	}
	for _, c := range []struct {
		name string
		b    builder
		want bool
	}{
		{"rise_ms", builder{gyro: true, waitMs: 350}, false},
		{"oblique", builder{gyro: true, waitMs: 350}, true},
		{"oblique", builder{gyro: false, waitMs: 350}, false},
		{"oblique", builder{gyro: true, waitMs: 25}, false},
	} {
		if got := c.b.offer(c.name); got != c.want || len(c.b.faults) > 0 {
			t.Errorf("%s with gyroscope %v after %g ms: %v, %v", c.name, c.b.gyro, c.b.waitMs, got, c.b.faults)
		}
	}
}

// Numbers that a board cannot hold are refused, told by name.
func TestUnfitNumbers(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), 1e39} {
		s := handMade()["cart"]
		c := *s.parameters.(*models.Cart)
		c.Sin = append([]golearn.Node(nil), c.Sin...)
		c.Sin[0].Threshold = v
		s.parameters = &c
		if _, err := describe(s, bag()); err == nil || !strings.Contains(err.Error(), "number 1 of SIN_NUMBER is "+fmt.Sprint(v)) {
			t.Errorf("threshold %g: %v", v, err)
		}
	}
	b := &builder{}
	b.indices("LIST", nil, []int{40000}, "")
	if len(b.faults) != 1 {
		t.Errorf("40000 in 16 bits: %v", b.faults)
	}
}
