package firmware

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
)

// Tolerance is how far the C's answer may lie from the detector's, as Miss
// measures it.
const Tolerance = 1e-4

// leastRelative keeps relative differences meaningful near 0: a value smaller
// than this many metres or degrees counts as this large.
const leastRelative = 0.01

// Miss is the largest difference between two answers. A bearing's is the
// difference on the circle as a part of 360 degrees; another figure's is the
// difference over the size of the wanted one, taken as 0.01 (metres or degrees)
// where that is smaller.
func Miss(got, want models.Estimate) float64 {
	worst := math.Abs(bearing.Diff(got.BearingDeg, want.BearingDeg)) / 360
	for _, v := range [][2]float64{
		{got.HeightM, want.HeightM},
		{got.BearingSDDeg, want.BearingSDDeg}, {got.BearingHalf90Deg, want.BearingHalf90Deg},
		{got.HeightSDM, want.HeightSDM}, {got.HeightHalf90M, want.HeightHalf90M},
	} {
		worst = math.Max(worst, math.Abs(v[0]-v[1])/math.Max(math.Abs(v[1]), leastRelative))
	}
	return worst // NaN where any of them is
}

// vector is a golden vector: what the board gives and what the detector says.
// Face is 0 and unsure -1 where the answer lies so near an edge that rounding
// may decide.
type vector struct {
	in           []float32
	want         models.Estimate
	face, unsure int
	about        string
}

// mostRecorded bounds the golden vectors that come from real strikes.
const mostRecorded = 48

// The steps in float64 must agree with the detector up to the order of sums. In
// an extreme, sums may cancel as they do in no strike.
const (
	sameArithmetic = 1e-9
	sameExtreme    = 1e-6
)

// goldens makes golden vectors and proves the program on them: in float64 its
// steps must be the detector's arithmetic, in float32 within Tolerance of it.
// A vector that float32 misses although float64 does not lies at a threshold;
// such are left out and counted, and too many are an error.
func (p *program) goldens(d models.Detector, r *rig.Rig, rows []features.Row) ([]vector, TableVectors, error) {
	var counts TableVectors
	var out []vector
	try := func(in []float64, about string, count *int, within float64) error {
		v := vector{about: about}
		for _, x := range in {
			v.in = append(v.in, float32(x))
		}
		on := make([]float64, len(in))
		for i, x := range v.in {
			on[i] = float64(x)
		}
		v.want = d.Estimate(models.Input{Row: p.row(on), Rig: r})
		v.face, v.unsure = p.edges(v.want, on, r)
		same := p.run(on, exact)
		if !(Miss(same.Estimate, v.want) <= within) || !v.judges(same) {
			return fmt.Errorf("%s: the steps for the board give %+v where the detector gives %+v: this is a fault of the program", about, same.Estimate, v.want)
		}
		if onBoard := p.run(on, toFloat32); !(Miss(onBoard.Estimate, v.want) <= Tolerance) || !v.judges(onBoard) {
			counts.LeftOut++
			return nil
		}
		*count++
		out = append(out, v)
		return nil
	}
	take := min(len(rows), mostRecorded)
	width := len(features.Columns())
	for i := range take {
		at := i * len(rows) / take
		if len(rows[at]) != width {
			return nil, counts, fmt.Errorf("input %d has %d features, not %d: extract them again", at+1, len(rows[at]), width)
		}
		var in []float64
		for _, input := range p.inputs {
			in = append(in, rows[at][input.at])
		}
		if err := try(in, fmt.Sprintf("strike %d of %d", at+1, len(rows)), &counts.Recorded, sameArithmetic); err != nil {
			return nil, counts, err
		}
	}
	missed := counts.LeftOut
	if 10*missed > take {
		return nil, counts, fmt.Errorf("float32 misses the detector's answer on %d of %d strikes: its numbers are too far apart in size: train again, or with fewer features", missed, take)
	}
	if len(rows) == 0 {
		for i, in := range p.madeUp(r) {
			if err := try(in, fmt.Sprintf("made up %d", i+1), &counts.MadeUp, sameArithmetic); err != nil {
				return nil, counts, err
			}
		}
	}
	for _, e := range p.extremes(r) {
		if err := try(e.in, e.about, &counts.Extreme, sameExtreme); err != nil {
			return nil, counts, err
		}
	}
	return out, counts, nil
}

// judges tells whether a result has the vector's face and is as unsure, where
// rounding does not decide.
func (v *vector) judges(got result) bool {
	return (v.face == 0 || got.Face == v.face) && (v.unsure < 0 || got.Unsure == (v.unsure == 1))
}

// row writes inputs into a row of features; the others have no value.
func (p *program) row(in []float64) features.Row {
	row := make(features.Row, len(features.Columns()))
	for i := range row {
		row[i] = math.NaN()
	}
	for i, input := range p.inputs {
		row[input.at] = in[i]
	}
	return row
}

// edges gives face and unsure, or 0 and -1 where they hang on rounding.
func (p *program) edges(want models.Estimate, in []float64, r *rig.Rig) (face, unsure int) {
	const nearDeg = 360 * Tolerance
	face = r.FaceOf(want.BearingDeg)
	if r.FaceOf(want.BearingDeg-nearDeg) != face || r.FaceOf(want.BearingDeg+nearDeg) != face {
		face = 0
	}
	unsure = int(truth(want.Unsure))
	near := func(v, edge float64) bool { return math.Abs(v-edge) <= Tolerance*edge }
	if near(want.BearingHalf90Deg, 180/float64(r.Faces)) {
		unsure = -1
	}
	for i, input := range p.inputs {
		if n := input.def.Name; (n == "kick" || n == "centre_kick") && strings.HasSuffix(input.column.Name, "_x") &&
			near(math.Hypot(in[i], in[i+1]), models.WeakestKickMPS) {
			unsure = -1
		}
	}
	return face, unsure
}

// extreme is an input that no strike gives, or hardly one.
type extreme struct {
	about string
	in    []float64
}

// clipped is the most that an input reads on the rig's sensor, by its unit: a
// push held at the end of the range.
func (p *program) clipped(i int, r *rig.Rig) float64 {
	acceleration := r.Sensor.AccelRangeG * dataset.StandardGravity
	switch p.inputs[i].column.Unit {
	case "m/s2":
		return acceleration
	case "m/s":
		return acceleration * 0.025
	case "rad/s":
		return bearing.Rad(r.Sensor.GyroRangeDPS)
	}
	return 1
}

// mostMadeUp is how many vectors stand in for strikes where there are none.
const mostMadeUp = 24

// madeUp draws inputs of the size of strikes, each number by itself. They
// resemble no strike, but reach all parts of the arithmetic.
func (p *program) madeUp(r *rig.Rig) [][]float64 {
	const share = 0.1 // of what the sensor reads at most
	rng := rand.New(rand.NewPCG(1, 2))
	out := make([][]float64, mostMadeUp)
	for n := range out {
		for i := range p.inputs {
			out[n] = append(out[n], share*p.clipped(i, r)*rng.NormFloat64())
		}
	}
	return out
}

// extremes lists them.
func (p *program) extremes(r *rig.Rig) []extreme {
	clipped := func(i int) float64 { return p.clipped(i, r) }
	of := func(about string, value func(i int) float64) extreme {
		e := extreme{about: about}
		for i := range p.inputs {
			e.in = append(e.in, value(i))
		}
		return e
	}
	// Signs without a pattern that a detector could share.
	sign := func(i int) float64 { return float64(1 - 2*(i*i/3%2)) }
	size := func(i int) float64 { return 1 / float64(1+i%5) }
	return []extreme{
		of("nothing moves", func(int) float64 { return 0 }),
		of("all clipped", clipped),
		of("all clipped the other way", func(i int) float64 { return -clipped(i) }),
		of("clipped to and fro", func(i int) float64 { return sign(i) * clipped(i) }),
		of("very weak", func(i int) float64 { return 1e-6 * sign(i) * size(i) * clipped(i) }),
		of("far beyond any sensor", func(i int) float64 { return 1e6 * sign(i) * size(i) }),
		of("at the edge of reason", func(i int) float64 { return models.LargestValue * sign(i) * size(i) }),
		of("first feature beyond reason", func(i int) float64 {
			if i == 0 {
				return 2 * models.LargestValue
			}
			return sign(i) * size(i) * clipped(i)
		}),
		of("first feature no number", func(i int) float64 {
			if i == 0 {
				return math.NaN()
			}
			return sign(i) * size(i) * clipped(i)
		}),
		of("gyroscope silent", func(i int) float64 {
			if p.inputs[i].def.NeedsGyro {
				return math.NaN()
			}
			return sign(i) * size(i) * clipped(i)
		}),
		of("no number at all", func(int) float64 { return math.NaN() }),
	}
}
