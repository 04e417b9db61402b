package intake

import (
	"fmt"
	"math"
)

// screenGyro settles whether the log has a gyroscope, by what most records
// say, and refuses the records that lack it where most have it.
func screenGyro(r *Records) (has bool, note string) {
	with := 0
	for _, v := range r.Readings[3] {
		if v == v {
			with++
		}
	}
	switch {
	case with == 0:
		return false, ""
	case with*2 < r.Len():
		return false, fmt.Sprintf("only %d of %d records hold rotation rates: the log is read without a gyroscope", with, r.Len())
	case with < r.Len():
		r.keep(func(i int) (bool, string, string) {
			return r.Readings[3][i] == r.Readings[3][i], "rotation rates missing", ""
		})
	}
	return true, ""
}

// fixedShare is the share of records that must agree on the number of decimals
// of every reading for the others to be held damaged. Numbers written with a
// fixed count of digits, or with trailing zeros cut, agree far less.
const fixedShare = 0.98

// screenDecimals finds records that lost or gained a character inside a number:
// boards print with a fixed number of decimals, so that one record with
// another number of them is damaged although it can be read. It does nothing
// where the log does not keep to fixed decimals.
func screenDecimals(r *Records) {
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
	r.keep(func(i int) (bool, string, string) {
		return r.Decimals[i] == usual, "decimals unlike the other records'", ""
	})
}

// screenRange refuses readings beyond what the sensor can give. The limits are
// in the log's units; 0 is no limit.
func screenRange(r *Records, accel, gyro float64) {
	r.keep(func(i int) (bool, string, string) {
		for k := range r.Readings {
			limit := accel
			if k >= 3 {
				limit = gyro
			}
			if v := math.Abs(float64(r.Readings[k][i])); limit > 0 && v > limit {
				return false, "reading beyond the sensor's range", fmt.Sprintf(": %s is %g", [...]string{"ax", "ay", "az", "gx", "gy", "gz"}[k], r.Readings[k][i])
			}
		}
		return true, "", ""
	})
}

// stamps brings the stamps to one whole-number scale: the log's unit, or
// thousandths of it where it has fractions (millionths for seconds). Stamps
// beyond any counter are refused.
func (r *Records) stamps(unit string) (raw []int64, perSecond float64) {
	perSecond = unitsPerSecond(unit)
	scale, cut := int64(1), int64(1)
	if r.Micro != nil {
		scale, cut = 1000, 1000
		if unit == "s" {
			scale, cut = 1000000, 1
		}
	}
	limit := int64(2e18) / scale
	beyond := false
	for _, w := range r.Whole {
		beyond = beyond || w > limit || w < -limit
	}
	if beyond {
		r.keep(func(i int) (bool, string, string) {
			return r.Whole[i] <= limit && r.Whole[i] >= -limit, "time stamp beyond any counter", ""
		})
	}
	raw = make([]int64, r.Len())
	for i, w := range r.Whole {
		raw[i] = w * scale
		if r.Micro != nil {
			raw[i] += int64(r.Micro[i]) / cut
		}
	}
	return raw, perSecond * float64(scale)
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
