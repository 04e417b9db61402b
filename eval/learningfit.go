package eval

import (
	"encoding/json"
	"fmt"
	"math"
	"sort"
)

// LearningFit is a mean error against the number of labels n, fitted as
// A + B n^-C through the last point: what is left with any number of labels, and
// what falls.
type LearningFit struct {
	Measure string  // name of the mean error that is fitted
	A       float64 // A, the error left with any number of labels, degrees or metres; null where there is no fit
	B       float64 // B, the part that falls, degrees or metres; null where there is no fit
	C       float64 // C, how fast it falls; null where there is no fit
	From    int     // least number of labels that the fit rests on, at least 0
	Now     Figure  // error with the labels that there are
	More    Figure  // error with 100 further labels
	Gain    Figure  // what those take off
	Enough  Figure  // from how many labels on, between those tried, the error is within a tenth of that with the most
}

// At is the fitted error with n labels.
func (f LearningFit) At(n float64) float64 { return f.A + f.B*math.Pow(n, -f.C) }

// Known tells whether there is a fit: it takes three numbers of labels.
func (f LearningFit) Known() bool { return f.Now.Known() }

type learningFitJSON struct {
	Measure string   `json:"measure"`
	A       *float64 `json:"a"`
	B       *float64 `json:"b"`
	C       *float64 `json:"c"`
	From    int      `json:"from_labels"`
	Now     Figure   `json:"now"`
	More    Figure   `json:"with_100_more"`
	Gain    Figure   `json:"gain"`
	Enough  Figure   `json:"enough_labels"`
}

// MarshalJSON writes what is not known as null.
func (f LearningFit) MarshalJSON() ([]byte, error) {
	return json.Marshal(learningFitJSON{f.Measure, finite(f.A), finite(f.B), finite(f.C), f.From, f.Now, f.More, f.Gain, f.Enough})
}

// UnmarshalJSON reads null as NaN.
func (f *LearningFit) UnmarshalJSON(data []byte) error {
	var j learningFitJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return fmt.Errorf("a learning curve's fit: %w", err)
	}
	*f = LearningFit{j.Measure, orNaN(j.A), orNaN(j.B), orNaN(j.C), j.From, j.Now, j.More, j.Gain, j.Enough}
	return nil
}

func noLearningFit(measure string) LearningFit {
	nan := math.NaN()
	return LearningFit{Measure: measure, A: nan, B: nan, C: nan, Now: NoFigure(), More: NoFigure(), Gain: NoFigure(), Enough: NoFigure()}
}

// learningSums are errors summed by resampling unit, from which any resample of
// units and draws gives the points of a curve.
type learningSums struct {
	sum     [][][]float64 // [size][draw][unit]
	count   []float64     // [unit]
	strikes int
	whole   []bool // [size]
	r       *resampler
	draws   [][]int     // [resample][draw]: which draws a resample takes
	points  [][]float64 // [resample][size]
	every   []float64   // [size]: of all
}

// sums resamples units of strikes, as everywhere, and draws of labels, which are
// as much a matter of chance.
func (l *learner) sums(of func(Score) float64) *learningSums {
	sessions := make([]string, len(l.tested))
	for p, i := range l.tested {
		sessions[p] = l.d.Cases[i].Session
	}
	unit, units, _ := resamplingUnits(sessions)
	s := &learningSums{count: make([]float64, units), whole: l.whole}
	for p := range l.tested {
		if l.known(p, of) {
			s.count[unit[p]]++
			s.strikes++
		}
	}
	for _, draws := range l.scores {
		var bySize [][]float64
		for _, scores := range draws {
			sum := make([]float64, units)
			for p, score := range scores {
				if x := of(score); !math.IsNaN(x) {
					sum[unit[p]] += x
				}
			}
			bySize = append(bySize, sum)
		}
		s.sum = append(s.sum, bySize)
	}
	rng := stream(l.o.Seed, "learning "+l.rig.name+l.family.Name)
	s.r = newResampler(units, l.o.Resamples, rng)
	all := make([]int, l.o.Draws)
	for d := range all {
		all[d] = d
	}
	s.every = s.at(ones(units), all)
	for _, w := range s.r.weights {
		drawn := make([]int, len(all))
		for d := range drawn {
			drawn[d] = rng.IntN(len(all))
		}
		s.points = append(s.points, s.at(w, drawn))
	}
	return s
}

// known tells whether a strike has this error wherever all fits came about.
func (l *learner) known(p int, of func(Score) float64) bool {
	for size, draws := range l.scores {
		if l.whole[size] {
			return !math.IsNaN(of(draws[0][p]))
		}
	}
	return false
}

// at is the curve of some units and draws, NaN where a fit is missing.
func (s *learningSums) at(w []float64, draws []int) []float64 {
	out := make([]float64, len(s.sum))
	n := dot(w, s.count) * float64(len(draws))
	for size := range out {
		out[size] = math.NaN()
		if !s.whole[size] || n == 0 {
			continue
		}
		var total float64
		for _, d := range draws {
			total += dot(w, s.sum[size][d])
		}
		out[size] = total / n
	}
	return out
}

// point is one number of labels with its interval.
func (s *learningSums) point(size int, o LearningOptions) Figure {
	reps := make([]float64, len(s.points))
	for k, p := range s.points {
		reps[k] = p[size]
	}
	return s.figure(s.every[size], reps, o.Level)
}

// figure is a value with the percentile interval of its replicates.
func (s *learningSums) figure(value float64, reps []float64, level float64) Figure {
	f := NoFigure()
	if math.IsNaN(value) {
		return f
	}
	f.Value, f.N, f.Units = value, s.strikes, s.r.units
	sorted := make([]float64, 0, len(reps))
	for _, x := range reps {
		sorted = appendKnown(sorted, x)
	}
	if len(sorted) < 2 {
		return f
	}
	sort.Float64s(sorted)
	tail := (1 - level) / 2
	f.Low, f.High, f.Method = quantileOfSorted(sorted, tail), quantileOfSorted(sorted, 1-tail), MethodPercentile
	return f
}

// fitted is how many points a fit rests on at most: the last ones, since a family
// takes a richer form as labels grow, and its curve then a step.
const fitted = 4

// fit fits the curve, and once more in every resample for the intervals. Points
// count by the variance of their distance from the last one over resamples.
// Labels that err themselves leave at least floor, but never more than the last
// error.
func (s *learningSums) fit(l *learner, measure string, floor float64) LearningFit {
	out := noLearningFit(measure)
	var at []int
	for size := range l.rig.sizes {
		if !math.IsNaN(s.every[size]) {
			at = append(at, size)
		}
	}
	if len(at) < 3 {
		return out
	}
	part := func(curve []float64) []float64 {
		y := make([]float64, len(at))
		for k, size := range at {
			y[k] = curve[size]
		}
		return y
	}
	n, weight := make([]float64, len(at)), make([]float64, len(at))
	for k, size := range at {
		n[k], weight[k] = float64(l.rig.sizes[size]), 1/math.Max(s.variance(size, at[len(at)-1]), 1e-12)
	}
	have := float64(l.rig.labels)
	start := max(0, len(n)-fitted)
	one := func(y []float64) (LearningFit, float64) {
		var f LearningFit
		f.A, f.B, f.C = fitPower(n[start:], y[start:], weight[start:], floor)
		return f, enough(n, y)
	}
	var now, more, gain, labels []float64
	for _, p := range s.points {
		f, e := one(part(p))
		now, more = append(now, f.At(have)), append(more, f.At(have+MoreLabels))
		gain, labels = append(gain, f.At(have)-f.At(have+MoreLabels)), append(labels, e)
	}
	f, e := one(part(s.every))
	out.A, out.B, out.C, out.From = f.A, f.B, f.C, int(n[start])
	level := l.o.Level
	out.Now, out.More = s.figure(f.At(have), now, level), s.figure(f.At(have+MoreLabels), more, level)
	out.Gain, out.Enough = s.figure(f.At(have)-f.At(have+MoreLabels), gain, level), s.figure(e, labels, level)
	return out
}

// variance over the resamples of how far the point of a size lies from that of
// the last one: both are scored on the same strikes.
func (s *learningSums) variance(size, last int) float64 {
	var x []float64
	for _, p := range s.points {
		x = appendKnown(x, p[size]-p[last])
	}
	sd := sampleSD(x)
	return sd * sd
}

// enough is the number of labels, in proportion between those tried, from which
// on all errors are within a tenth of the last one.
func enough(n, y []float64) float64 {
	last := len(y) - 1
	limit := 1.1 * y[last]
	k := last
	for k > 0 && y[k-1] <= limit {
		k--
	}
	if k == 0 {
		return n[0]
	}
	part := (y[k-1] - limit) / (y[k-1] - y[k])
	return math.Ceil(n[k-1] + part*(n[k]-n[k-1]))
}

// Bounds of the exponent. Errors of means fall with the root of n, and slower or
// faster than these a few points cannot tell from a floor or from a step.
const (
	slowestLearning = 0.3
	fastestLearning = 1.5
)

// fitPower fits y = a + b n^-c, through the last point and by weighted least
// squares to the others, with c between the bounds, b not below 0, and a not
// below floor, or the last y if that is less. For each c on a grid of hundredths
// b follows at once.
func fitPower(n, y, weight []float64, floor float64) (a, b, c float64) {
	last := len(n) - 1
	floor = math.Min(floor, y[last])
	best := math.Inf(1)
	for step := 100 * slowestLearning; step <= 100*fastestLearning+0.5; step++ {
		power := math.Round(step) / 100
		end := math.Pow(n[last], -power)
		var xx, xy float64
		for i := range last {
			x := math.Pow(n[i], -power) - end
			xx, xy = xx+weight[i]*x*x, xy+weight[i]*x*(y[i]-y[last])
		}
		slope := math.Max(0, math.Min(xy/xx, (y[last]-floor)/end))
		var misfit float64
		for i := range last {
			r := y[i] - y[last] - slope*(math.Pow(n[i], -power)-end)
			misfit += weight[i] * r * r
		}
		if misfit < best {
			best, a, b, c = misfit, y[last]-slope*end, slope, power
		}
	}
	return a, b, c
}
