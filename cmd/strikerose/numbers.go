package main

import (
	"math"
	"strconv"
	"time"
)

// fixed writes a number with a fixed number of decimals, and nothing for one
// that is not known.
func fixed(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'f', decimals, 64)
}

// secondsText writes a time in nanoseconds as seconds with four decimals:
// finer than any sample, and coarser than what the clock's repair can still
// shift when a log goes on.
func secondsText(ns int64) string { return fixed(time.Duration(ns).Seconds(), 4) }

// readyText is secondsText rounded up, by half a step at least, so that what
// has been read at that time is enough: the board's stamps jitter by some
// microseconds about the repaired clock.
func readyText(ns int64) string {
	step := 100 * time.Microsecond
	return secondsText(int64((time.Duration(ns) + step/2 + step - 1).Truncate(step)))
}

// bearingText writes a bearing with two decimals; what rounds up to a whole
// turn is 0.
func bearingText(deg float64) string {
	if s := fixed(deg, 2); s != "360.00" {
		return s
	}
	return "0.00"
}

func heightText(m float64) string { return fixed(m, 4) }

// optional writes a number that may be missing.
func optional(x *float64, text func(float64) string) string {
	if x == nil {
		return ""
	}
	return text(*x)
}

// known is the number, or nil for one that is not known, as JSON wants it.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
