package intake

import (
	"cmp"
	"math"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// noise estimates the standard deviation of the white noise of a column from
// its third differences: median |difference| / 0.6745 / sqrt(20). Smooth
// motion cancels in a third difference, and the median does not see strikes;
// 20 = 1 + 9 + 9 + 1 is the variance gain, 0.6745 the median of |N(0,1)|.
func noise(x []float32) float64 {
	const most = 32768 // differences, evenly spread: the median is then good to 1 %
	if len(x) < 8 {
		return 0
	}
	stride := max(1, len(x)/most)
	d := make([]float64, 0, min(len(x), most)+1)
	for i := 3; i < len(x); i += stride {
		d = append(d, math.Abs(float64(x[i])-3*float64(x[i-1])+3*float64(x[i-2])-float64(x[i-3])))
	}
	return groupedMedian(d) / 0.6745 / math.Sqrt(20)
}

// noises is the noise of three columns.
func noises(x [3][]float32) (sd [3]float64) {
	for k := range 3 {
		sd[k] = noise(x[k])
	}
	return sd
}

// groupedMedian is the median of values that come in steps, each taken as
// spread evenly half a step to both sides. It sorts d.
func groupedMedian(d []float64) float64 {
	slices.Sort(d)
	m := d[len(d)/2]
	tolerance := 1e-5 * d[len(d)-1] // float32 rounding must not split a step
	below, _ := slices.BinarySearch(d, m-tolerance)
	above, _ := slices.BinarySearch(d, m+tolerance)
	if same := above - below; same*200 < len(d) {
		return m
	}
	lo, hi := -m, m // the distribution of |d| is folded at 0
	if below > 0 {
		lo = d[below-1]
	}
	if above < len(d) {
		hi = d[above]
	}
	left, right := (m+lo)/2, (m+hi)/2
	left, right = max(0, left), max(m, right)
	return left + (right-left)*(float64(len(d))/2-float64(below))/float64(above-below)
}

// rest is what the still stretches of a recording say.
type rest struct {
	mean    [3]float64 // reading, in the columns' unit
	size    float64    // of the readings, whichever way they point
	windows int        // of half a second
	calm    bool       // false: nothing is as quiet as the noise, and the quietest twentieth stands in
}

// stillS is the length of the windows that are looked at.
const stillS = 0.5

// restOf finds the windows whose spread on every axis is near its noise and
// returns the middle of their means. With bounds, no window crosses one of the
// given places.
func restOf(x [3][]float32, floor [3]float64, rateHz float64, bounds []int) rest {
	rows := max(8, int(rateHz*stillS))
	n := len(x[0])
	if n < rows {
		rows = n
	}
	if n == 0 {
		return rest{}
	}
	var size float64
	for k := range 3 {
		size += math.Abs(float64(x[k][n/2]))
	}
	for k := range 3 {
		floor[k] = max(floor[k], 5e-4*size, 1e-12)
	}
	type window struct {
		score float64
		mean  [3]float64
	}
	var all []window
	next := 0
	for i := 0; i+rows <= n; {
		for next < len(bounds) && bounds[next] <= i {
			next++
		}
		if next < len(bounds) && bounds[next] < i+rows {
			i = bounds[next]
			continue
		}
		var w window
		for k := range 3 {
			mean, sd := meanSD(x[k][i : i+rows])
			w.mean[k] = mean
			w.score = max(w.score, sd/floor[k])
		}
		all = append(all, w)
		i += rows
	}
	if len(all) == 0 { // segments shorter than a window
		var r rest
		for k := range 3 {
			r.mean[k], _ = meanSD(x[k])
		}
		r.size = length(r.mean)
		return r
	}
	slices.SortStableFunc(all, func(a, b window) int { return cmp.Compare(a.score, b.score) })
	// Third differences see only white noise; a sensor's own low-pass makes the
	// spread larger than that by a factor that the quietest windows show.
	low := all[min(2, len(all)-1)].score
	r := rest{calm: low < 2.5}
	count := len(all)/20 + 1
	if r.calm {
		count = 0
		for limit := max(1.3, 1.25*low); count < len(all) && all[count].score <= limit; {
			count++
		}
		r.windows = count
	}
	buf := make([]float64, count)
	for k := range 3 {
		for i := range count {
			buf[i] = all[i].mean[k]
		}
		r.mean[k] = middle(buf)
	}
	for i := range count {
		buf[i] = length(all[i].mean)
	}
	r.size = middle(buf)
	return r
}

// middle is the median. It sorts x.
func middle(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

func length(v [3]float64) float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }

func meanSD(x []float32) (mean, sd float64) {
	for _, v := range x {
		mean += float64(v)
	}
	mean /= float64(len(x))
	for _, v := range x {
		d := float64(v) - mean
		sd += d * d
	}
	return mean, math.Sqrt(sd / float64(len(x)))
}

// slant derives from the still reading how far the sensor's up axis leans and
// toward which bearing. Gravity's reaction points straight up; seen by a
// sensor that leans toward a bearing, up lies on the other side, so that the
// horizontal part of the reading points away from the lean.
//
// A bias of the accelerometer that the rig's calibration does not correct cannot
// be told from a slant: 0.01 g of bias look like 0.6 degrees. The lean is that of
// the corrected reading, whichever its cause; and it is the sensor's against
// gravity, so it holds for the bag only where the bag hangs plumb.
func slant(still [3]float64, rg *rig.Rig) (deg, towardDeg float64) {
	turn := rg.AccelTurn()
	v := turn.Bag(still)
	deg = bearing.Deg(math.Atan2(math.Hypot(v[0], v[1]), v[2]))
	return deg, bearing.FromVector(-v[0], -v[1])
}

// measure fills in what the session row says of noise, rest and clipping.
func measure(s *dataset.Session, sig *dataset.Signal, rg *rig.Rig, clipMPS2 float64) rest {
	s.NoiseMPS2 = noises(sig.A)
	if sig.HasGyro() {
		s.NoiseRadps = noises(sig.G)
	}
	var bounds []int
	for _, span := range sig.Segments()[1:] {
		bounds = append(bounds, span.Start)
	}
	r := restOf(sig.A, s.NoiseMPS2, s.RateHz, bounds)
	s.StillMPS2 = r.mean
	s.StillS = min(float64(r.windows)*stillS, s.DurationS)
	s.SlantDeg, s.SlantTowardDeg = slant(r.mean, rg)
	if clipMPS2 > 0 {
		for i := range sig.Len() {
			for k := range 3 {
				if math.Abs(float64(sig.A[k][i])) >= clipMPS2 {
					s.ClippedSamples++
					break
				}
			}
		}
	}
	return r
}
