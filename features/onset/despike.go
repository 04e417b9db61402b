package onset

// Lookahead is how many samples the despiker needs beyond the one it hands
// out: a run of three and two samples after it.
const Lookahead = longestRun + 1

// longestRun is the longest blip in samples: a converter's or a bus's fault
// spoils one to three readings at any rate.
const longestRun = 3

const (
	// runTimes: a run is a blip when it stands off the line across it this many
	// times further than the signal moves beside it.
	runTimes = 4
	// stepNoise is the least movement beside a run that is counted, in standard
	// deviations of the noise: steps between resting samples reach it.
	stepNoise = 6
)

// despiker replaces blips by the line across them. It hands out each sample
// Lookahead samples later.
//
// The ring holds samples already cleaned up to the one handed out last, and
// raw ones after it.
type despiker struct {
	ring  [8][3]float64 // indexed by sample number modulo 8
	fixed [8]bool
	n     int64 // samples taken
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

// test looks for a blip that begins at sample i, the shortest first, and
// replaces it.
func (d *despiker) test(i int64, noise float64) {
	least := stepNoise * stepNoise * noise * noise
	before := d.ring[(i-1)&7]
	into := distance2(d.ring[i&7], before)
	if into <= least {
		return
	}
	beside := max(least, distance2(before, d.ring[(i-2)&7]))
	for w := int64(1); w <= longestRun; w++ {
		after := d.ring[(i+w)&7]
		step := max(beside, distance2(d.ring[(i+w+1)&7], after), distance2(after, before))
		if into <= step {
			continue
		}
		var off float64
		for j := range w {
			off = max(off, distance2(d.ring[(i+j)&7], line(before, after, j+1, w+1)))
		}
		if off <= runTimes*runTimes*step {
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
