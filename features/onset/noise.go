package onset

import "math"

// The noise is measured by the median size of the third difference of single
// samples, which is blind to motion: a push of 10 ms hardly bends within four
// samples, and pushes are rare. For Gaussian noise of standard deviation s the
// third difference has standard deviation s sqrt(20) (1+9+9+1), and the median
// of its size is 0.6745 times that.
//
// The median is read from counts in bins of equal ratio, so memory is fixed
// and the order of samples does not matter.
const (
	noiseBins     = 96
	noiseBinsPer2 = 6        // bins in a factor of two: each is 12 % wide
	noiseLeast    = 1e-3     // m/s2, lower edge of the first bin; the last ends at 65 m/s2
	noiseS        = 2.0      // measured over the first two seconds
	noiseFirstS   = 1.0 / 16 // first value, then at each doubling

	medianOfNormal = 0.6744897501960817 // of the size of a standard normal number
)

// noiseMeter measures the noise of one axis, taken as equal on all three.
type noiseMeter struct {
	last   [3][3]float64 // the samples before, newest first
	held   int           // how many of them there are
	counts [noiseBins]int32
	total  int32
	n      int64 // samples taken
	next   int64 // n at which the value is renewed
	first  int64 // n at which there is a first value
	until  int64 // n after which it stays
	known  bool
	least  float64
	value  float64
}

func newNoiseMeter(c Config, p Params) noiseMeter {
	if c.NoiseMPS2 > 0 {
		return noiseMeter{value: c.NoiseMPS2, known: true}
	}
	first := int64(noiseFirstS * c.RateHz)
	return noiseMeter{
		value: p.StartMPS2,
		// A converter whose step hides the noise gives zeros: an eighth of the
		// start value keeps the levels above its step.
		least: p.StartMPS2 / 8,
		first: first,
		next:  first,
		until: int64(noiseS * c.RateHz),
	}
}

// push takes a raw sample and returns the noise known so far.
func (m *noiseMeter) push(a [3]float64) float64 {
	if m.known {
		return m.value
	}
	if m.held == len(m.last) {
		for k := range a {
			m.count(math.Abs(a[k] - 3*m.last[0][k] + 3*m.last[1][k] - m.last[2][k]))
		}
	} else {
		m.held++
	}
	m.last[2], m.last[1], m.last[0] = m.last[1], m.last[0], a
	m.n++
	if m.n >= m.next {
		m.value = max(m.least, m.median()/medianOfNormal/math.Sqrt(20))
		m.next *= 2
		m.known = m.n >= m.until
	}
	return m.value
}

// measured tells whether there is a value better than the start. No event
// begins before: a noise far above the start would look like strikes.
func (m *noiseMeter) measured() bool { return m.known || m.n >= m.first }

// restart forgets the last samples but not the counts: a sensor keeps its
// noise over a loss or a restart.
func (m *noiseMeter) restart() { m.held = 0 }

func (m *noiseMeter) count(size float64) {
	bin := 0
	if size > noiseLeast {
		bin = min(noiseBins-1, 1+int(noiseBinsPer2*math.Log2(size/noiseLeast)))
	}
	m.counts[bin]++
	m.total++
}

// median interpolates within its bin.
func (m *noiseMeter) median() float64 {
	if m.total == 0 {
		return 0
	}
	half, sum := float64(m.total)/2, 0.0
	for i, c := range m.counts {
		if sum+float64(c) >= half {
			if i == 0 {
				return noiseLeast
			}
			part := (half - sum) / float64(c)
			return noiseLeast * math.Exp2((float64(i-1)+part)/noiseBinsPer2)
		}
		sum += float64(c)
	}
	return 0
}
