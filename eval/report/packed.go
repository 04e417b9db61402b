package report

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// packed writes the paths of many small shapes by tenths of a point and from corner
// to corner, which takes less than half the room. A page holds some ten thousand.
func packed(body string) string {
	// Paths of straight lines alone, with more than one shape.
	shapes := regexp.MustCompile(` d="(M[-0-9.,ML]+Z(?:M[-0-9.,ML]+Z)+)"`)
	return shapes.ReplaceAllStringFunc(body, func(path string) string {
		out, ok := fromCornerToCorner(path[len(` d="`) : len(path)-1])
		if !ok {
			return path
		}
		return ` d="` + out + `"`
	})
}

// fromCornerToCorner is false where a path holds what is no number.
func fromCornerToCorner(path string) (string, bool) {
	var b strings.Builder
	var at [2]int // tenths of a point
	for shape := range strings.SplitSeq(strings.TrimSuffix(path, "Z"), "Z") {
		var start [2]int
		for k, corner := range strings.Split(strings.TrimPrefix(shape, "M"), "L") {
			x, y, two := strings.Cut(corner, ",")
			to, ok := tenths(x, y)
			if !two || !ok {
				return "", false
			}
			if k == 0 {
				start = to
				b.WriteString("m" + tenth(to[0]-at[0])) // the first m is from the origin
			} else {
				b.WriteString(between(to[0] - at[0])) // corners after the first need no command
			}
			b.WriteString(between(to[1] - at[1]))
			at = to
		}
		b.WriteString("z")
		at = start // a closed shape ends where it began
	}
	return b.String(), true
}

func tenths(x, y string) (out [2]int, ok bool) {
	for k, s := range []string{x, y} {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return out, false
		}
		out[k] = int(math.Round(10 * v))
	}
	return out, true
}

// tenth writes tenths without a zero before the point.
func tenth(v int) string {
	s := strconv.FormatFloat(float64(v)/10, 'f', -1, 64)
	if rest, small := strings.CutPrefix(s, "0."); small {
		return "." + rest
	}
	return strings.Replace(s, "-0.", "-.", 1)
}

// between is a further coordinate; its sign parts it from the one before.
func between(v int) string {
	if v < 0 {
		return tenth(v)
	}
	return " " + tenth(v)
}
