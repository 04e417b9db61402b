package intake

import (
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// summary gathers what the session row says of noise, rest and clipping, in
// memory that hardly grows with the log. Of a log of one chunk it is exact.
type summary struct {
	accel, gyro *stills
	noises      []chunkNoise
	clipped     int64
	segment     int32 // of the last sample
}

// chunkNoise is the noise of a chunk.
type chunkNoise struct {
	samples     int
	accel, gyro [3]float64
}

// add takes in a chunk, or the whole log; windows at rest are as long as the first
// one's rate has it. From a size of clipMPS2 on a reading is clipped; 0: the range
// is unknown.
func (m *summary) add(sig *dataset.Signal, rateHz, clipMPS2 float64, whole bool) {
	differences := fewDifferences
	if whole {
		differences = mostDifferences
	}
	if m.accel == nil {
		m.accel, m.gyro = newStills(rateHz), newStills(rateHz)
	}
	var bounds []int
	for i, segment := range sig.Segment {
		if segment != m.segment {
			bounds = append(bounds, i)
			m.segment = segment
		}
	}
	m.accel.add(sig.A, bounds)
	n := chunkNoise{samples: sig.Len(), accel: noises(sig.A, differences)}
	if sig.HasGyro() {
		m.gyro.add(sig.G, nil)
		n.gyro = noises(sig.G, differences)
	}
	m.noises = append(m.noises, n)
	if clipMPS2 > 0 {
		for i := range sig.Len() {
			for k := range 3 {
				if math.Abs(float64(sig.A[k][i])) >= clipMPS2 {
					m.clipped++
					break
				}
			}
		}
	}
}

// noise is the middle of the chunks' noises; a short last one is left out.
func (m *summary) noise() (accel, gyro [3]float64) {
	most := 0
	for _, n := range m.noises {
		most = max(most, n.samples)
	}
	for k := range 3 {
		var a, g []float64
		for _, n := range m.noises {
			if 2*n.samples >= most {
				a, g = append(a, n.accel[k]), append(g, n.gyro[k])
			}
		}
		accel[k], gyro[k] = middle(a), middle(g)
	}
	return accel, gyro
}

// measure fills in what the session row says of noise, rest and clipping.
func (m *summary) measure(s *dataset.Session, rg *rig.Rig) rest {
	s.NoiseMPS2, s.NoiseRadps = m.noise()
	r := m.accel.rest(s.NoiseMPS2)
	s.StillMPS2 = r.mean
	s.StillS = min(float64(r.windows)*stillS, s.DurationS)
	s.SlantDeg, s.SlantTowardDeg = slant(r.mean, rg)
	s.ClippedSamples = m.clipped
	return r
}
