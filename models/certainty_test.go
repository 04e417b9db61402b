package models

import (
	"math"
	"math/rand/v2"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
)

// madeUpResidual is an error that grows with the peak where grows says so, and
// that is a flip with some probability.
func madeUpResidual(rng *rand.Rand, grows, flips float64) residual {
	row := make(features.Row, len(features.Columns()))
	for k := range row {
		row[k] = math.Exp(rng.NormFloat64())
	}
	size := math.Pow(math.Sqrt(size2(row.Vector("peak"))), grows)
	r := residual{in: Input{Row: row, Rig: &rig.Rig{Bag: rig.Bag{LengthM: 1}}}, answeredM: rng.Float64(), told: usualDoubt(), harder: 1, harderM: 1,
		bearingDeg: bearing.Wrap180(3 * size * rng.NormFloat64()), heightM: 0.03 * size * rng.NormFloat64()}
	if rng.Float64() < flips {
		r.bearingDeg = bearing.Wrap180(r.bearingDeg + 180)
	}
	return r
}

// Intervals calibrated on strikes hold nine in ten of others of the same kind,
// up to what chance does on both sides, whether their errors are alike, grow
// with a feature or flip, and whether or not the core tells of it.
func TestIntervalsCoverStrikesOfTheSameKind(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and starts nothing at once")
	}
	const learned, asked = 300, 600
	for _, c := range []struct {
		name         string
		grows, flips float64
		tells        bool
	}{{"alike", 0, 0, false}, {"growing", 1, 0, false}, {"flipping", 1, 0.04, false}, {"told", 1, 0.04, true}, {"often flipping", 0, 0.15, false}} {
		t.Run(c.name, func(t *testing.T) {
			const seeds = 8
			var meanB, meanH float64
			sd := math.Sqrt(share90 * (1 - share90) * (1./learned + 1./asked))
			for seed := range uint64(seeds) {
				rng := rand.New(rand.NewPCG(seed, 11))
				strike := func() residual {
					r := madeUpResidual(rng, c.grows, c.flips)
					if c.tells {
						size := math.Sqrt(size2(r.in.Row.Vector("peak")))
						r.told = doubt{bearing: size, height: size, flip: 0.08 * rng.Float64()}
					}
					return r
				}
				var res []residual
				for range learned {
					res = append(res, strike())
				}
				s := Stated{Certainty: calibrate(res, "test", false)}
				var b, h float64
				for range asked {
					r := strike()
					e := s.beside(r.told, r.in, r.answeredM)
					if math.Abs(r.bearingDeg) <= e.BearingHalf90Deg {
						b += 1. / asked
					}
					if math.Abs(r.heightM) <= e.HeightHalf90M {
						h += 1. / asked
					}
				}
				if math.Abs(b-share90) > 4*sd || math.Abs(h-share90) > 4*sd {
					t.Errorf("seed %d: %.3f of the bearings and %.3f of the heights lie in their intervals, want %.2f within %.3f", seed, b, h, share90, 4*sd)
				}
				meanB, meanH = meanB+b/seeds, meanH+h/seeds
			}
			if within := 3.5 * sd / math.Sqrt(seeds); math.Abs(meanB-share90) > within || math.Abs(meanH-share90) > within {
				t.Errorf("over all seeds %.4f of the bearings and %.4f of the heights lie in their intervals, want %.2f within %.4f", meanB, meanH, share90, within)
			}
		})
	}
}

// The rank of conformal prediction holds exactly: of n errors and one more of
// the same kind, the one more lies within the rank's in (rank)/(n+1) of cases.
func TestUpperIsTheFiniteSampleRank(t *testing.T) {
	for _, c := range []struct {
		n    int
		want float64
	}{{9, 9}, {10, 10}, {19, 18}, {99, 90}, {100, 91}, {5, 5}} {
		x := make([]float64, c.n)
		for i := range x {
			x[i] = float64(c.n - i)
		}
		if got := upper(x, share90); got != c.want {
			t.Errorf("of 1 to %d: %g, want %g", c.n, got, c.want)
		}
	}
}

// A difficulty is learned where errors differ by a feature, not where they do
// not, and an error's own factor comes from the other parts alone.
func TestDifficulty(t *testing.T) {
	draw := func(grows float64) []residual {
		rng := rand.New(rand.NewPCG(3, 4))
		res := make([]residual, 300)
		for i := range res {
			res[i] = madeUpResidual(rng, grows, 0)
		}
		return res
	}
	for _, grows := range []float64{0, 1.5} {
		c := calibrate(draw(grows), "test", false)
		if want := grows > 0; (c.Difficulty != nil) != want || (c.HeightDifficulty != nil) != want {
			t.Errorf("errors that go with peak^%g: bearing %+v, height %+v", grows, c.Difficulty, c.HeightDifficulty)
		}
	}
	res := draw(1.5)
	before := crossScaled(res, bearingSide)
	for i := range res {
		if i%difficultyParts == 2 {
			res[i].bearingDeg = 100
		}
	}
	others := 0
	for i, r := range crossScaled(res, bearingSide) {
		same := r.harder == before[i].harder
		if i%difficultyParts == 2 && !same {
			t.Fatalf("error %d: its own part changed its factor from %g to %g", i, before[i].harder, r.harder)
		}
		if i%difficultyParts != 2 && !same {
			others++
		}
	}
	if others == 0 {
		t.Error("no part taught another")
	}
}

// The distribution stated is that of the errors: its spread, its flips, and the
// two together in the standard deviation.
func TestStatedDistributionIsThatOfTheErrors(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var res []residual
	var cos float64
	for range 4000 {
		r := madeUpResidual(rng, 0, 0.1)
		res = append(res, r)
		cos += math.Cos(bearing.Rad(r.bearingDeg)) / 4000
	}
	s := Stated{Certainty: calibrate(res, "test", false)}
	e := s.beside(usualDoubt(), res[0].in, 0.5)
	if math.Abs(e.FlipShare-0.1) > 0.02 {
		t.Errorf("flips %.3f, want 0.1", e.FlipShare)
	}
	if want := bearing.SDDeg(cos); math.Abs(e.BearingSDDeg-want) > 0.01*want {
		t.Errorf("standard deviation %.2f, that of the errors is %.2f", e.BearingSDDeg, want)
	}
	if got := bearing.SDDeg(bearing.A1(e.Bearing().Kappa)); math.Abs(got-3) > 0.2 {
		t.Errorf("each side spreads by %.2f degrees, want 3", got)
	}
	for _, level := range []float64{0.3, 0.6, 0.85} {
		half, inside := e.Bearing().HalfDeg(level), 0.0
		for _, r := range res {
			if math.Abs(r.bearingDeg) <= half {
				inside += 1. / 4000
			}
		}
		if math.Abs(inside-level) > 0.03 {
			t.Errorf("%.3f of the errors lie within what should hold %.2f", inside, level)
		}
	}
}

// A rig file's yaw is off by what it says, for every detector without labels of
// the rig; the variances add.
func TestMountWithoutLabels(t *testing.T) {
	exact, wide := 0.0, 8.0
	for _, f := range Families() {
		if f.Kind != Rule {
			continue
		}
		d, err := f.Fit(t.Context(), nil, Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		sd := func(yaw *float64) float64 {
			r := &rig.Rig{Name: "bag", Revision: 1, Faces: 6, Sensor: rig.Sensor{YawSDDeg: yaw, GyroRangeDPS: 2000}}
			s := d.(*Model).CertaintyFor(r)
			return s.beside(usualDoubt(), Input{Row: make(features.Row, len(features.Columns())), Rig: r}, 0.5).BearingSDDeg
		}
		if got, want := sd(nil), math.Hypot(sd(&exact), rig.UsualYawSDDeg); math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: usual mount: %g, want %g", f.Name, got, want)
		}
		if got, want := sd(&wide), math.Hypot(sd(&exact), wide); math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: a mount known to 8 degrees: %g, want %g", f.Name, got, want)
		}
	}
}

// With a few labels the yaw's own standard error is added, with many it is in
// the errors of what was held back.
func TestMountWithLabels(t *testing.T) {
	r := &rig.Rig{Name: "bag", Revision: 1, Faces: 6}
	for labels, want := range map[int]float64{4: 6, leastToCalibrate: 0} {
		m := &Model{core: &PeakArctangent{}, Certainty: Certainty{Calibrated: true, BearingSDDeg: 5},
			Rigs: []RigYaw{{Rig: r.Key(), Labels: labels, Scatter: 12, BearingFactor: 1, HeightFactor: 1}}}
		if got := m.CertaintyFor(r).MountSDDeg; got != want {
			t.Errorf("%d labels: %g degrees, want %g", labels, got, want)
		}
	}
}

func TestWrongFaceChance(t *testing.T) {
	for _, c := range []struct {
		e    Estimate
		want float64
	}{
		{Estimate{BearingDeg: 60, BearingSDDeg: 0.001}, 0},
		{Estimate{BearingDeg: 30, BearingSDDeg: 2}, 0.5},            // on an edge
		{Estimate{BearingDeg: 28, BearingSDDeg: 2}, 0.158655},       // a standard deviation before it, as if normal
		{Estimate{BearingDeg: 0, BearingSDDeg: 1e4}, 5. / 6},        // anywhere
		{Estimate{BearingDeg: 0, BearingSDDeg: 30 / 1.644854}, 0.1}, // half of the 90 % interval is half a face
		{Estimate{BearingDeg: 0, BearingSDDeg: flipSDDeg(0.1), FlipShare: 0.1}, 0.1},
	} {
		if got := c.e.WrongFaceChance(6); math.Abs(got-c.want) > 0.003 {
			t.Errorf("%+v: %.4f, want %.4f", c.e, got, c.want)
		}
	}
	// The chance is what the distribution's draws do.
	rng := rand.New(rand.NewPCG(8, 9))
	e := Estimate{BearingDeg: 100, BearingSDDeg: math.Hypot(14, flipSDDeg(0.03)), FlipShare: 0.03}
	wrong := 0.0
	const draws = 5000
	spread := e.Bearing()
	for range draws {
		if bearing.FaceOf(e.BearingDeg+spread.Quantile(rng.Float64()), 6) != bearing.FaceOf(e.BearingDeg, 6) {
			wrong += 1. / draws
		}
	}
	if got := e.WrongFaceChance(6); math.Abs(got-wrong) > 0.025 {
		t.Errorf("chance %.4f, of draws %.4f", got, wrong)
	}
}

// The board's one threshold puts the chance of a wrong face at the risk, for a
// strike anywhere on its face; at the usual risk that is where half of the 90 %
// interval is about half a face.
func TestSureSDDeg(t *testing.T) {
	for _, c := range []Certainty{{}, {Risk: 0.1}, {Risk: 0.4}, {Risk: 0.25, FlipShare: 0.03}} {
		for _, faces := range []int{4, 6, 12} {
			sd := c.SureSDDeg(faces)
			mean := 0.0
			const n = 600
			for i := range n {
				e := Estimate{BearingDeg: 360 / float64(faces) * (float64(i) + 0.5) / n, BearingSDDeg: sd, FlipShare: c.FlipShare}
				mean += e.WrongFaceChance(faces) / n
			}
			if want := c.WrongFaceRisk(); math.Abs(mean-want) > 0.002 {
				t.Errorf("risk %g, %d faces: at %.2f degrees the chance is %.4f", want, faces, sd, mean)
			}
		}
	}
	if half := normal90 * (Certainty{}).SureSDDeg(6); math.Abs(half-30) > 3 {
		t.Errorf("a strike is sure up to a half-width of %.1f degrees, want about 30", half)
	}
	if got := (Certainty{FlipShare: 0.2}).SureSDDeg(6); got != 0 {
		t.Errorf("with flips in a fifth, sure up to %g degrees, want never", got)
	}
}

func TestRiskIsBetweenNoneAndCertain(t *testing.T) {
	m := &Model{}
	for _, risk := range []float64{0, -0.1, 1, 2, math.NaN(), math.Inf(1)} {
		if _, err := m.AtRisk(risk); err == nil {
			t.Errorf("risk %g was taken", risk)
		}
	}
	got, err := m.AtRisk(0.1)
	if err != nil || got.Certainty.WrongFaceRisk() != 0.1 || m.Certainty.WrongFaceRisk() != UsualRisk {
		t.Errorf("risks %g and %g, error %v", got.Certainty.WrongFaceRisk(), m.Certainty.WrongFaceRisk(), err)
	}
}

func TestNormal(t *testing.T) {
	n := Normal{MeanM: 0.5, SDM: 0.04}
	var sum float64
	for h := 0.2; h < 0.54; h += 1e-5 {
		sum += n.Density(h+5e-6) * 1e-5
	}
	if math.Abs(n.CDF(0.54)-0.841344746) > 1e-9 || math.Abs(sum-n.CDF(0.54)) > 1e-4 {
		t.Errorf("CDF %.9f, integral of the density %.6f, want 0.841344746", n.CDF(0.54), sum)
	}
	for _, p := range []float64{0.01, 0.5, 0.9} {
		if got := n.CDF(n.Quantile(p)); math.Abs(got-p) > 1e-12 {
			t.Errorf("CDF(Quantile(%g)) = %g", p, got)
		}
	}
	if got := n.HalfM(0.9) / n.SDM; math.Abs(got-1.644853627) > 1e-9 {
		t.Errorf("half of the 90 %% interval is %.9f standard deviations", got)
	}
}
