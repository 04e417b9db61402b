package eval

import (
	"fmt"
	"math"

	"strikerose/dataset/bearing"
)

// FlipDeg is the size of bearing error beyond which an answer is a flip.
const FlipDeg = 120

// Score is one detector's answer for one strike beside the truth. What the
// truth or the detector does not give is NaN, and the measures that need it
// leave the strike out.
type Score struct {
	BearingErrDeg  float64 // estimate minus truth, in (-180, 180]
	HeightErrM     float64 // estimate minus truth
	RightFace      float64 // 1 or 0
	RightBand      float64 // 1 or 0
	BearingInside  float64 // 1 where the truth lies in the stated 90 % interval, else 0
	HeightInside   float64
	BearingHalfDeg float64 // half-width of the stated 90 % interval
	HeightHalfM    float64
	BearingCRPSDeg float64 // circular CRPS of the stated certainty
	LengthM        float64 // of the bag, where the height is scored
}

// Measure is one summary of the scores of one detector. Values picks what it
// summarises from one score, NaN to leave the strike out.
type Measure struct {
	Name   string // stable: key in JSON, column in CSV; ends in its unit
	Title  string // for people
	Unit   string // deg, m, share or count
	Doc    string
	Better string // lower, higher, zero or nominal
	value  func(Score) float64
	kind   measureKind
	p      float64 // of a quantile
}

type measureKind int

const (
	meanOf measureKind = iota
	rootMeanSquareOf
	circularMeanOf
	quantileOf
	facesOf // finest parting of the turn; values are parts of it
	bandsOf // finest parting of the bag; likewise
)

// Names of the two measures that detectors are ranked by.
const (
	BearingMAE = "bearing_mae_deg"
	HeightMAE  = "height_mae_m"
)

// Names of the measures of how finely a detector tells.
const (
	Faces95 = "faces95_count"
	Bands95 = "bands95_count"
)

// Measures lists every measure of bearing, height and certainty, in the order
// in which reports give them. Each is defined here and nowhere else.
func Measures() []Measure {
	absBearing := func(s Score) float64 { return math.Abs(s.BearingErrDeg) }
	absHeight := func(s Score) float64 { return math.Abs(s.HeightErrM) }
	return []Measure{
		{Name: BearingMAE, Title: "bearing error, mean", Unit: "deg", Better: "lower",
			Doc: "mean size of the bearing error, wrapped to (-180, 180]", value: absBearing},
		{Name: "bearing_median_deg", Title: "bearing error, median", Unit: "deg", Better: "lower",
			Doc: "median size of the bearing error", value: absBearing, kind: quantileOf, p: 0.5},
		{Name: "bearing_p95_deg", Title: "bearing error, 95th percentile", Unit: "deg", Better: "lower",
			Doc: "95th percentile of the size of the bearing error", value: absBearing, kind: quantileOf, p: 0.95},
		{Name: "bearing_bias_deg", Title: "bearing bias", Unit: "deg", Better: "zero",
			Doc: "circular mean of the bearing error; positive is clockwise of the truth", kind: circularMeanOf,
			value: func(s Score) float64 { return s.BearingErrDeg }},
		{Name: "flip_share", Title: "flips", Unit: "share", Better: "lower",
			Doc: "share of strikes with a bearing error larger than 120 degrees",
			value: func(s Score) float64 {
				if math.IsNaN(s.BearingErrDeg) {
					return math.NaN()
				}
				return indicator(math.Abs(s.BearingErrDeg) > FlipDeg)
			}},
		{Name: "right_face_share", Title: "right face", Unit: "share", Better: "higher",
			Doc: "share of strikes put on the face that the truth's bearing lies on", value: func(s Score) float64 { return s.RightFace }},
		{Name: HeightMAE, Title: "height error, mean", Unit: "m", Better: "lower",
			Doc: "mean size of the height error", value: absHeight},
		{Name: "height_rms_m", Title: "height error, RMS", Unit: "m", Better: "lower",
			Doc: "root mean square of the height error", kind: rootMeanSquareOf, value: func(s Score) float64 { return s.HeightErrM }},
		{Name: "height_bias_m", Title: "height bias", Unit: "m", Better: "zero",
			Doc: "mean of the height error; positive is above the truth", value: func(s Score) float64 { return s.HeightErrM }},
		{Name: "right_band_share", Title: "right band", Unit: "share", Better: "higher",
			Doc: "share of strikes put in the band that the truth's height lies in", value: func(s Score) float64 { return s.RightBand }},
		{Name: "bearing_cover90_share", Title: "bearing in its 90 % interval", Unit: "share", Better: "nominal",
			Doc: "share of strikes whose true bearing lies in the stated 90 % interval; should be 0.9", value: func(s Score) float64 { return s.BearingInside }},
		{Name: "height_cover90_share", Title: "height in its 90 % interval", Unit: "share", Better: "nominal",
			Doc: "share of strikes whose true height lies in the stated 90 % interval; should be 0.9", value: func(s Score) float64 { return s.HeightInside }},
		{Name: "bearing_half90_deg", Title: "stated bearing half-width, median", Unit: "deg", Better: "lower", kind: quantileOf, p: 0.5,
			Doc: "median half-width of the stated 90 % interval of the bearing", value: func(s Score) float64 { return s.BearingHalfDeg }},
		{Name: "height_half90_m", Title: "stated height half-width, median", Unit: "m", Better: "lower", kind: quantileOf, p: 0.5,
			Doc: "median half-width of the stated 90 % interval of the height", value: func(s Score) float64 { return s.HeightHalfM }},
		{Name: "bearing_crps_deg", Title: "bearing CRPS", Unit: "deg", Better: "lower",
			Doc: "mean circular continuous ranked probability score of the stated distribution: von Mises about the estimate, and about its opposite with the stated probability of a flip", value: func(s Score) float64 { return s.BearingCRPSDeg }},
		{Name: Faces95, Title: "faces told apart", Unit: "count", Better: "higher", kind: facesOf,
			Doc:   fmt.Sprintf("largest number of equal faces, with edges anywhere, of which 95 %% of the strikes would be put on the right one; at most %d, 1 where not even two", MostFaces),
			value: partOfTurn},
		{Name: Bands95, Title: "bands told apart", Unit: "count", Better: "higher", kind: bandsOf,
			Doc:   fmt.Sprintf("largest number of equal bands of which 95 %% of strikes spread evenly over the bag would be put in the right one; at most %d, 1 where not even two", MostBands),
			value: partOfBag},
	}
}

// MeasureByName finds a measure.
func MeasureByName(name string) (Measure, bool) {
	for _, m := range Measures() {
		if m.Name == name {
			return m, true
		}
	}
	return Measure{}, false
}

func indicator(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// Of returns the measure's value over scores and the number that it counted;
// NaN and 0 when it can count none.
func (m Measure) Of(scores []Score) (float64, int) {
	c := m.column(scores)
	n := c.count()
	if n == 0 {
		return math.NaN(), 0
	}
	return c.statistic(make([]int, len(scores)), 1)([]float64{1}), n
}

func (m Measure) column(scores []Score) column {
	c := column{kind: m.kind, p: m.p, share: m.Unit == "share", values: make([]float64, len(scores))}
	for i, s := range scores {
		c.values[i] = m.value(s)
	}
	return c
}

// column is a list of numbers, one a strike, NaN where a strike does not
// count, with how they are summarised.
type column struct {
	values []float64
	kind   measureKind
	p      float64
	share  bool // the values are 0 and 1
}

func (c column) count() int {
	n := 0
	for _, v := range c.values {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// smooth tells whether the summary is a smooth function of how often each
// strike counts.
func (c column) smooth() bool { return c.kind < quantileOf }

// statistic prepares the summary as a function of how often each resampling
// unit counts, so that a resample costs no walk through the strikes, or one.
func (c column) statistic(unit []int, units int) func(unitWeights []float64) float64 {
	var values []float64
	var owner []int
	for i, v := range c.values {
		if !math.IsNaN(v) {
			values = append(values, v)
			owner = append(owner, unit[i])
		}
	}
	switch c.kind {
	case quantileOf:
		return weightedQuantile(values, owner, c.p)
	case facesOf:
		return finest(values, owner, units, MostFaces, rightFace)
	case bandsOf:
		return finest(values, owner, units, MostBands, rightBand)
	}
	return unitSums(c.kind, values, owner, units)
}

// unitSums returns a statistic that is a function of sums over units.
func unitSums(kind measureKind, values []float64, owner []int, units int) func([]float64) float64 {
	count := make([]float64, units)
	first := make([]float64, units)
	second := make([]float64, units)
	for i, v := range values {
		u := owner[i]
		count[u]++
		switch kind {
		case meanOf:
			first[u] += v
		case rootMeanSquareOf:
			first[u] += v * v
		case circularMeanOf:
			z := bearing.Unit(v)
			first[u] += real(z)
			second[u] += imag(z)
		}
	}
	return func(w []float64) float64 {
		var n, a, b float64
		for u, k := range w {
			n += k * count[u]
			a += k * first[u]
			b += k * second[u]
		}
		switch {
		case n == 0:
			return math.NaN()
		case kind == rootMeanSquareOf:
			return math.Sqrt(a / n)
		case kind == circularMeanOf:
			return bearing.Wrap180(bearing.FromVector(b, a))
		}
		return a / n
	}
}

// aroundCircle unwraps a statistic in degrees about a centre.
func aroundCircle(stat func([]float64) float64, centreDeg float64) func([]float64) float64 {
	return func(w []float64) float64 { return centreDeg + bearing.Diff(stat(w), centreDeg) }
}
