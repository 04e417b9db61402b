package intake

import (
	"cmp"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// noise estimates the standard deviation of the white noise of a column from
// its third differences: median |difference| / 0.6745 / sqrt(20). Smooth
// motion cancels in a third difference, and the median does not see strikes;
// 20 = 1 + 9 + 9 + 1 is the variance gain, 0.6745 the median of |N(0,1)|.
// It looks at so many differences at most, evenly spread.
func noise(x []float32, most int) float64 {
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

// With so many differences a median is good to 1 %; the chunks of a long log, of
// which the middle is taken, need fewer.
const (
	mostDifferences = 32768
	fewDifferences  = 8192
)

// noises is the noise of three columns.
func noises(x columns, most int) (sd [3]float64) {
	for k := range 3 {
		sd[k] = noise(x[k], most)
	}
	return sd
}

// groupedMedian is the median of values that come in steps, each taken as
// spread evenly half a step to both sides. It reorders d.
func groupedMedian(d []float64) float64 {
	m := nthSmallest(d, len(d)/2)
	tolerance := 1e-5 * slices.Max(d) // float32 rounding must not split a step
	below, above := 0, 0
	lo, hi := math.Inf(-1), math.Inf(1)
	for _, v := range d {
		switch {
		case v < m-tolerance:
			below++
			lo = max(lo, v)
		case v < m+tolerance:
		default:
			above++
			hi = min(hi, v)
		}
	}
	above = len(d) - above
	if same := above - below; same*200 < len(d) {
		return m
	}
	if below == 0 {
		lo = -m // the distribution of |d| is folded at 0
	}
	if above == len(d) {
		hi = m
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

// restOf is what the still windows of one stretch say; see stills.rest.
func restOf(x columns, floor [3]float64, rateHz float64) rest {
	s := newStills(rateHz)
	s.add(x, nil)
	return s.rest(floor)
}

// mostWindows bounds what is kept of a session: nine hours. Of longer ones every
// second window is kept, then every fourth, and so on.
const mostWindows = 1 << 16

// stills gathers the windows of a recording that may be still.
type stills struct {
	rows    int        // of a window
	size    float64    // of a reading in the middle of the first stretch, for the least floor
	n       float64    // readings
	sum     [3]float64 // of them, while there is no window
	windows []window
	stride  int     // one window of so many is kept
	seen    int     // windows
	begun   columns // a window whose end is in the next stretch
}

// window is half a second of three columns.
type window struct {
	mean, sd [3]float64
	score    float64
}

func newStills(rateHz float64) *stills {
	return &stills{rows: max(8, int(rateHz*stillS)), stride: 1}
}

// add takes in the next stretch. No window crosses one of the given places in it.
func (s *stills) add(x columns, bounds []int) {
	n := len(x[0])
	if n == 0 {
		return
	}
	if s.n == 0 {
		s.rows = min(s.rows, n)
		for k := range 3 {
			s.size += math.Abs(float64(x[k][n/2]))
		}
	}
	for i := 0; i < n; {
		stop := n
		if len(bounds) > 0 {
			if bounds[0] == i {
				s.begun.reset()
				bounds = bounds[1:]
				continue
			}
			stop = bounds[0]
		}
		most := min(stop, i+s.rows-len(s.begun[0]))
		if len(s.begun[0]) == 0 && most == i+s.rows {
			s.keep(windowOf(x, i, most))
		} else if s.begun.add(x, i, most); len(s.begun[0]) == s.rows {
			s.keep(windowOf(s.begun, 0, s.rows))
			s.begun.reset()
		}
		i = most
	}
	s.n += float64(n)
	if s.seen > 0 {
		return
	}
	for k := range 3 { // the mean of all stands in for windows
		for _, v := range x[k] {
			s.sum[k] += float64(v)
		}
	}
}

// columns are three columns of readings.
type columns [3][]float32

// add appends rows from to end of x.
func (c *columns) add(x columns, from, end int) {
	for k := range c {
		c[k] = append(c[k], x[k][from:end]...)
	}
}

func (c *columns) reset() {
	for k := range c {
		c[k] = c[k][:0]
	}
}

// keep adds a window, and thins them out where they are too many.
func (s *stills) keep(w window) {
	s.seen++
	if (s.seen-1)%s.stride != 0 {
		return
	}
	s.windows = append(s.windows, w)
	if len(s.windows) <= mostWindows {
		return
	}
	to := 0
	for i := 0; i < len(s.windows); i += 2 {
		s.windows[to] = s.windows[i]
		to++
	}
	s.windows = s.windows[:to]
	s.stride *= 2
}

// windowOf measures rows from to end of three columns, all three at a time.
func windowOf(x columns, from, end int) (w window) {
	a, b, c := x[0][from:end], x[1][from:end], x[2][from:end]
	n := float64(len(a))
	var m0, m1, m2 float64
	for i := range a {
		m0 += float64(a[i])
		m1 += float64(b[i])
		m2 += float64(c[i])
	}
	m0, m1, m2 = m0/n, m1/n, m2/n
	var s0, s1, s2 float64
	for i := range a {
		d0, d1, d2 := float64(a[i])-m0, float64(b[i])-m1, float64(c[i])-m2
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
	}
	return window{mean: [3]float64{m0, m1, m2}, sd: [3]float64{math.Sqrt(s0 / n), math.Sqrt(s1 / n), math.Sqrt(s2 / n)}}
}

// rest finds the windows whose spread on every axis is near its noise and
// returns the middle of their means.
func (s *stills) rest(floor [3]float64) rest {
	if s.n == 0 {
		return rest{}
	}
	for k := range 3 {
		floor[k] = max(floor[k], 5e-4*s.size, 1e-12)
	}
	all := s.windows
	if len(all) == 0 { // segments shorter than a window
		var r rest
		for k := range 3 {
			r.mean[k] = s.sum[k] / s.n
		}
		r.size = length(r.mean)
		return r
	}
	for i := range all {
		w := &all[i]
		w.score = 0
		for k := range 3 {
			w.score = max(w.score, w.sd[k]/floor[k])
		}
	}
	all = slices.Clone(all)
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
		r.windows = count * s.stride
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
