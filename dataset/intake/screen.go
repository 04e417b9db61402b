package intake

import (
	"fmt"
	"math"
	"slices"
)

// screens are what a log's first records settle for all of them.
type screens struct {
	rates      bool       // every record holds rotation rates
	none       bool       // no record holds any
	fixed      bool       // every record has the usual decimals
	usual      uint32     // as in Records.Decimals
	scale, cut int64      // see scaleOf
	most       [2]float64 // readings of accelerometer and gyroscope, in the log's units; 0: no limit
}

// settleGyro settles whether the log has a gyroscope, by what most records say.
func (s *screens) settleGyro(r *Records) (has bool, note string) {
	with := 0
	for _, v := range r.Readings[3] {
		if v == v {
			with++
		}
	}
	switch {
	case with == 0:
		s.none = true
		return false, ""
	case with*2 < r.Len():
		return false, fmt.Sprintf("only %d of %d records hold rotation rates: the log is read without a gyroscope", with, r.Len())
	}
	s.rates = true
	return true, ""
}

// gyro refuses the records that lack rotation rates where most have them.
func (s *screens) gyro(r *Records, a *Account) {
	if !s.rates || !slices.ContainsFunc(r.Readings[3], func(v float32) bool { return v != v }) {
		return
	}
	r.keep(a, func(i int) (bool, string, string) {
		return r.Readings[3][i] == r.Readings[3][i], "rotation rates missing", ""
	})
}

// later screens records that come after those that settled the screens, and
// brings their stamps to one scale.
func (s *screens) later(r *Records, a *Account) {
	s.gyro(r, a)
	if s.none {
		for i, v := range r.Readings[3] {
			if v == v {
				a.note("rotation rates left out: the log's start holds none", r.where(i), "")
			}
		}
	}
	s.decimals(r, a)
	r.rescale(s.scale, s.cut, a)
	s.ranges(r, a)
}

// fixedShare is the share of records that must agree on the number of decimals
// of every reading for the others to be held damaged. Numbers written with a
// fixed count of digits, or with trailing zeros cut, agree far less.
const fixedShare = 0.98

// settleDecimals finds the usual number of decimals, where the log keeps to it.
func (s *screens) settleDecimals(r *Records) {
	if r.Decimals == nil || r.Len() < 50 {
		return
	}
	var usual uint32
	for column := range 7 {
		var count [16]int
		for _, d := range r.Decimals {
			count[d>>(4*column)&15]++
		}
		best := 0
		for k := range count {
			if count[k] > count[best] {
				best = k
			}
		}
		if float64(count[best]) < fixedShare*float64(r.Len()) {
			return
		}
		usual |= uint32(best) << (4 * column)
	}
	s.fixed, s.usual = true, usual
}

// decimals finds records that lost or gained a character inside a number:
// boards print with a fixed number of decimals, so that one record with
// another number of them is damaged although it can be read.
func (s *screens) decimals(r *Records, a *Account) {
	if !s.fixed || !slices.ContainsFunc(r.Decimals, func(d uint32) bool { return d != s.usual }) {
		return
	}
	r.keep(a, func(i int) (bool, string, string) {
		return r.Decimals[i] == s.usual, "decimals unlike the other records'", ""
	})
}

// ranges refuses readings beyond what the sensor can give.
func (s *screens) ranges(r *Records, a *Account) {
	within := true
	for k := range r.Readings {
		within = within && (s.most[k/3] <= 0 || allWithin(r.Readings[k], s.most[k/3]))
	}
	if within {
		return
	}
	r.keep(a, func(i int) (bool, string, string) {
		for k := range r.Readings {
			limit := s.most[k/3]
			if v := math.Abs(float64(r.Readings[k][i])); limit > 0 && v > limit {
				return false, "reading beyond the sensor's range", fmt.Sprintf(": %s is %g", [...]string{"ax", "ay", "az", "gx", "gy", "gz"}[k], r.Readings[k][i])
			}
		}
		return true, "", ""
	})
}

// allWithin tells whether no reading is beyond a limit.
func allWithin(x []float32, limit float64) bool {
	for _, v := range x {
		if math.Abs(float64(v)) > limit {
			return false
		}
	}
	return true
}

// scaleOf tells how stamps are brought to one whole-number scale: the log's
// unit, or thousandths of it where it has fractions (millionths for seconds).
// The whole part is multiplied by scale, and millionths are divided by cut.
func (r *Records) scaleOf(unit string) (scale, cut int64) {
	switch {
	case r.Micro == nil:
		return 1, 0
	case unit == "s":
		return 1000000, 1
	}
	return 1000, 1000
}

// stamps returns the stamps on a scale. Those beyond any counter are refused.
func (r *Records) stamps(scale, cut int64, a *Account) []int64 {
	r.countable(scale, a)
	raw := make([]int64, r.Len())
	r.scaleTo(raw, scale, cut)
	return raw
}

// rescale brings the stamps to a scale, where they are. Fractions that it has no
// room for are left out and counted.
func (r *Records) rescale(scale, cut int64, a *Account) {
	r.countable(scale, a)
	if cut == 0 && r.Micro != nil {
		for i, m := range r.Micro {
			if m != 0 {
				a.note("fraction of a time stamp left out: the stamps at the log's start have none", r.where(i), "")
			}
		}
	}
	r.scaleTo(r.Whole, scale, cut)
}

func (r *Records) scaleTo(raw []int64, scale, cut int64) {
	for i, w := range r.Whole {
		raw[i] = w * scale
		if cut > 0 && r.Micro != nil {
			raw[i] += int64(r.Micro[i]) / cut
		}
	}
}

// countable refuses stamps beyond any counter.
func (r *Records) countable(scale int64, a *Account) {
	limit := int64(2e18) / scale
	if !slices.ContainsFunc(r.Whole, func(w int64) bool { return w > limit || w < -limit }) {
		return
	}
	r.keep(a, func(i int) (bool, string, string) {
		return r.Whole[i] <= limit && r.Whole[i] >= -limit, "time stamp beyond any counter", ""
	})
}

// moduli lists where a counter written with so many units a second may wrap:
// at 2^32 of the unit it counts in, which is microseconds or milliseconds.
func moduli(perSecond float64, unit string) []float64 {
	const m = 1 << 32
	switch {
	case unit == "us":
		return []float64{m * perSecond / 1e6}
	case unit == "ms" && perSecond == 1e3:
		return []float64{m / 1000.0, m} // from a counter of microseconds, or of milliseconds
	case unit == "ms":
		return []float64{m, m * 1000}
	}
	return []float64{m} // seconds with millionths
}
