package calibrate

import (
	"math"
	"slices"

	"strikerose/dataset"
)

// Still is a stretch in which the sensor lay still.
type Still struct {
	dataset.Span
	Seconds float64
	Accel   [3]float64 // mean reading, m/s2
	Gyro    [3]float64 // rad/s; zero without a gyroscope
}

// Choices without source, tried on recordings of bags at rest.
const (
	lookS       = 0.25 // length of the pieces that are looked at
	leastStillS = 1.0  // of a stretch
	marginS     = 0.25 // left out at a stretch's ends: a hand lets go
	quiet       = 1.6  // of a piece's spread over that of the quietest ones
	// A sensor in a hand is never quieter than this, and hardly any sensor
	// noisier; the gyroscope's is in rad/s.
	leastHandMPS2, leastHandRadps = 0.4, 0.1
	// A piece's mean may leave the stretch's by so much.
	strayMPS2 = 0.1
)

// Stretches finds where a signal is still, in order. Each ends where a segment
// ends. It takes as still what is as quiet as the quietest tenth, but nothing
// as loud as a hand.
func Stretches(sig *dataset.Signal, rateHz float64) []Still {
	rows := max(8, int(math.Round(lookS*rateHz)))
	pieces := cutPieces(sig, rows)
	if len(pieces) == 0 {
		return nil
	}
	var limit [6]float64
	for k := range limit {
		spreads := make([]float64, len(pieces))
		for i, p := range pieces {
			spreads[i] = p.spread[k]
		}
		slices.Sort(spreads)
		hand := leastHandMPS2
		if k >= 3 {
			hand = leastHandRadps
		}
		limit[k] = min(hand, quiet*spreads[len(spreads)/10]+step(k))
	}
	var out []Still
	open := dataset.Span{Start: -1}
	var at [3]float64
	count := 0
	finish := func() {
		if open.Start >= 0 {
			if s, ok := stretch(sig, open, rateHz); ok {
				out = append(out, s)
			}
		}
		open.Start = -1
	}
	for _, p := range pieces {
		if !p.below(limit) {
			finish()
			continue
		}
		if open.Start >= 0 && (p.first || p.Start != open.End || distance(p.accel, at) > strayMPS2) {
			finish()
		}
		if open.Start < 0 {
			open, at, count = p.Span, p.accel, 1
			continue
		}
		count++
		for k := range at {
			at[k] += (p.accel[k] - at[k]) / float64(count)
		}
		open.End = p.End
	}
	finish()
	return out
}

// step is what a converter's steps may add to a spread: they can hide noise.
func step(k int) float64 {
	if k < 3 {
		return 0.005
	}
	return 0.001
}

// piece is a short run of samples.
type piece struct {
	dataset.Span
	first  bool // of its segment
	accel  [3]float64
	spread [6]float64 // accelerometer, then gyroscope
}

func (p piece) below(limit [6]float64) bool {
	for k := range limit {
		if p.spread[k] > limit[k] {
			return false
		}
	}
	return true
}

// cutPieces divides each segment into pieces of some samples.
func cutPieces(sig *dataset.Signal, rows int) []piece {
	var out []piece
	for _, s := range sig.Segments() {
		for i := s.Start; i+rows <= s.End; i += rows {
			p := piece{Span: dataset.Span{Start: i, End: i + rows}, first: i == s.Start}
			for k := range 3 {
				p.accel[k], p.spread[k] = meanSpread(sig.A[k][i : i+rows])
				if sig.HasGyro() {
					_, p.spread[3+k] = meanSpread(sig.G[k][i : i+rows])
				}
			}
			out = append(out, p)
		}
	}
	return out
}

// stretch measures a run of still pieces without its ends.
func stretch(sig *dataset.Signal, s dataset.Span, rateHz float64) (Still, bool) {
	margin := int(math.Round(marginS * rateHz))
	s.Start, s.End = s.Start+margin, s.End-margin
	if float64(s.End-s.Start) < leastStillS*rateHz {
		return Still{}, false
	}
	out := Still{Span: s, Seconds: float64(s.End-s.Start) / rateHz}
	for k := range 3 {
		out.Accel[k], _ = meanSpread(sig.A[k][s.Start:s.End])
		if sig.HasGyro() {
			out.Gyro[k], _ = meanSpread(sig.G[k][s.Start:s.End])
		}
	}
	return out, true
}

// meanSpread returns mean and standard deviation of readings.
func meanSpread(x []float32) (mean, sd float64) {
	for _, v := range x {
		mean += float64(v)
	}
	mean /= float64(len(x))
	for _, v := range x {
		d := float64(v) - mean
		sd += float64(d * d)
	}
	return mean, math.Sqrt(sd / float64(len(x)))
}

func distance(a, b [3]float64) float64 {
	return size([3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]})
}

func size(v [3]float64) float64 {
	return math.Sqrt(float64(v[0]*v[0]) + float64(v[1]*v[1]) + float64(v[2]*v[2]))
}

func median(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
