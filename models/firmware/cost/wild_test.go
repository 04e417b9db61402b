package cost_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"strikerose/features/chain/board"
	"strikerose/models/firmware"
)

// wild makes streams that no bag gives: noise of every size, limits held and
// changed at each sample, blows on top, with stamps that are late, lost, doubled,
// gone back and wrapped.
func wild(v *firmware.Device, samples int, seed uint64) [][]board.Sample {
	var out [][]board.Sample
	for kind := range 5 {
		rng := rand.New(rand.NewPCG(seed, uint64(kind)))
		period := 1e6 / v.Rig.Sensor.RateHz
		now := float64(rng.Uint32())
		stream := make([]board.Sample, samples)
		blow := [6]float64{}
		size := 1.0
		for i := range stream {
			if rng.IntN(400) == 0 {
				size = math.Exp(rng.Float64() * math.Log(40000))
				for k := range blow {
					blow[k] = rng.NormFloat64() * math.Exp(rng.Float64()*math.Log(40000))
				}
			}
			s := &stream[i]
			now += period
			switch kind {
			case 1: // late and lost
				if rng.IntN(100) == 0 {
					now += rng.Float64() * 20 * period
				}
			case 2: // anything
				switch rng.IntN(300) {
				case 0:
					now += rng.NormFloat64() * 1e6
				case 1:
					now -= period
				case 2:
					now = float64(rng.Uint32())
				}
			}
			s.TUs = uint32(int64(now + rng.Float64()*period/20))
			for k := range 3 {
				s.A[k] = wildReading(rng, kind, size, blow[k])
				s.G[k] = wildReading(rng, kind, size, blow[3+k])
			}
			for k := range blow {
				blow[k] *= 0.8
			}
		}
		out = append(out, stream)
	}
	return out
}

func wildReading(rng *rand.Rand, kind int, size, blow float64) int16 {
	x := rng.NormFloat64()*size + blow
	switch {
	case kind == 3: // from limit to limit
		x = math.Copysign(40000, rng.NormFloat64())
	case kind == 4: // at rest but for blows
		x = blow + rng.NormFloat64()*2
	}
	return int16(math.Min(math.Max(math.Round(x), math.MinInt16), math.MaxInt16))
}

// FuzzSamples runs the detectors on whatever bytes make: Go would panic where C
// would read or divide beyond what is defined.
func FuzzSamples(f *testing.F) {
	f.Add([]byte{}, uint64(1))
	f.Add([]byte("late and lost"), uint64(2))
	f.Add([]byte{0xff, 0x7f, 0x00, 0x80, 0x01}, uint64(3))
	f.Fuzz(func(t *testing.T, data []byte, seed uint64) {
		for _, k := range []kind{{"arctangent", "peak-arctangent", false}, {"pendulum", "pendulum", true}} {
			v, _ := device(t, k, firmware.Fixed)
			for _, samples := range wild(v, 700, seed) {
				for i, b := range data {
					s := &samples[i*37%len(samples)]
					s.TUs ^= uint32(b) << (i % 25)
					s.A[i%3] ^= int16(b) << (i % 9)
				}
				if _, err := v.Run(t.Context(), samples); err != nil {
					t.Fatal(err)
				}
			}
		}
	})
}
