package onset

import "math"

// Lookahead is how many samples the despiker needs beyond the one it hands
// out: a run of three and two samples after it.
const Lookahead = longestRun + 1

// longestRun is the longest blip in samples: a converter's or a bus's fault
// spoils one to three readings at any rate.
const longestRun = 3

// contactLeastMs is how much of the shortest contact, 14 ms, stands out from
// its weak ends. A run of readings that lasts as long, with the step on either
// side, may be a strike and is taken for one: below 400 Hz blips of three
// readings pass as strikes, below 300 Hz those of two.
const contactLeastMs = 10

// longestBlip is the longest run that is taken for a blip, samples: 1 at 200
// Hz, longestRun from 400 Hz on.
func longestBlip(rateHz float64) int {
	return min(longestRun, int(contactLeastMs*rateHz/1000+1e-9)-1)
}

const (
	// stepNoise is the movement beside a run that noise explains, in standard
	// deviations of one axis: steps between resting samples hardly exceed it.
	stepNoise = 6
	// runTimes: a run is a blip when it stands off the line across it this many
	// times further than the signal moves beside it.
	runTimes = 4
	// A run that lasts longer than longRunMs, a third of the shortest contact,
	// could be the top of a push seen at a low rate: in simulated recordings at
	// 400 Hz pushes stand off up to 10 times, spoiled readings 40 times and
	// more.
	longRunMs    = 5
	longRunTimes = 20
)

// runFactors returns for runs of 1 to longestRun samples how many times the
// movement beside it a run has to stand off.
func runFactors(rateHz float64) (times [longestRun]float64) {
	for i := range times {
		times[i] = runTimes
		if float64(i+1)*1000/rateHz > longRunMs {
			times[i] = longRunTimes
		}
	}
	return times
}

// despiker replaces blips by the line across them. It hands out each sample
// Lookahead samples later.
//
// The ring holds samples already cleaned up to the one handed out last, and
// raw ones after it.
type despiker struct {
	times [longestRun]float64 // see runFactors
	most  int64               // samples of a run, see longestBlip
	ring  [8][3]float64       // indexed by sample number modulo 8
	fixed [8]bool
	n     int64 // samples taken
}

func newDespiker(rateHz float64) despiker {
	return despiker{times: runFactors(rateHz), most: int64(longestBlip(rateHz))}
}

// push takes sample n and returns sample n - Lookahead once there is one.
// noise is the standard deviation of one axis.
func (d *despiker) push(a [3]float64, noise float64) (clean [3]float64, fixed, ok bool) {
	if d.n == 0 { // what came before is taken to have been like the first sample
		for i := range d.ring {
			d.ring[i] = a
		}
	}
	d.ring[d.n&7], d.fixed[d.n&7] = a, false
	i := d.n - Lookahead
	d.n++
	if i < 0 {
		return clean, false, false
	}
	if !d.fixed[i&7] {
		d.test(i, noise)
	}
	return d.ring[i&7], d.fixed[i&7], true
}

// busy tells whether a reading that was not handed out yet has been replaced or
// is at the limit, to which it may have been held.
func (d *despiker) busy(limit float64) bool {
	for i := d.n - Lookahead; i < d.n; i++ {
		a := &d.ring[i&7]
		if d.fixed[i&7] || max(math.Abs(a[0]), math.Abs(a[1]), math.Abs(a[2])) >= limit {
			return true
		}
	}
	return false
}

// foresee tells whether the push of a reading would hand out a mended one.
func (d *despiker) foresee(a [3]float64, noise float64) bool {
	d.ring[d.n&7] = a
	i := d.n - Lookahead
	d.test(i, noise)
	return d.fixed[i&7]
}

// take adds readings none of which, nor of those before them, is a blip.
func (d *despiker) take(a [][3]float64) {
	for i := max(0, len(a)-len(d.ring)); i < len(a); i++ {
		at := (d.n + int64(i)) & 7
		d.ring[at], d.fixed[at] = a[i], false
	}
	d.n += int64(len(a))
}

// test looks for a blip that begins at sample i, the shortest first, and
// replaces it.
func (d *despiker) test(i int64, noise float64) {
	still := stepNoise * noise
	before := d.ring[(i-1)&7]
	into := distance2(d.ring[i&7], before)
	if into <= still*still { // nearly always: nothing more to do
		return
	}
	beside := distance2(before, d.ring[(i-2)&7])
	for w := int64(1); w <= d.most; w++ {
		after := d.ring[(i+w)&7]
		step := max(beside, distance2(d.ring[(i+w+1)&7], after), distance2(after, before))
		if into <= step {
			continue
		}
		var off float64
		for j := range w {
			off = max(off, distance2(d.ring[(i+j)&7], line(before, after, j+1, w+1)))
		}
		if least := runTimes*still + d.times[w-1]*max(0, math.Sqrt(step)-still); off <= least*least {
			continue
		}
		for j := range w {
			d.ring[(i+j)&7] = line(before, after, j+1, w+1)
			d.fixed[(i+j)&7] = true
		}
		return
	}
}

// line returns the point j/n of the way from a to b.
func line(a, b [3]float64, j, n int64) [3]float64 {
	t := float64(j) / float64(n)
	for k := range a {
		a[k] += float64(t * (b[k] - a[k]))
	}
	return a
}

// distance2 is the squared distance between two readings over all axes.
func distance2(a, b [3]float64) float64 {
	x, y, z := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return float64(x*x) + float64(y*y) + float64(z*z)
}
