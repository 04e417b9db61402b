package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"strikerose/dataset"
)

// describeSession puts a session's row into words: a key and its text a line.
func describeSession(s dataset.Session) [][2]string {
	var out [][2]string
	add := func(key, format string, args ...any) { out = append(out, [2]string{key, fmt.Sprintf(format, args...)}) }
	if s.Striker != "" {
		add("striker", "%s", s.Striker)
	}
	kind := s.Dialect
	if s.Compression != "" {
		kind += ", " + s.Compression
	}
	units := "time in " + s.TimeUnit + ", accelerometer in " + s.AccelUnit
	if s.HasGyro {
		units += ", gyroscope in " + s.GyroUnit
	} else {
		units += ", no gyroscope"
	}
	add("recognised", "%s; %s", kind, units)
	add("samples", "%d in %s, %.1f s at %.2f Hz (nominal %g)", s.Samples, counted(s.Segments, "segment"), s.DurationS, s.RateHz, s.NominalRateHz)
	add("rest", "%.1f s still; noise %.3f %.3f %.3f m/s²; the up axis leans %.1f degrees toward bearing %.0f", s.StillS,
		s.NoiseMPS2[0], s.NoiseMPS2[1], s.NoiseMPS2[2], s.SlantDeg, s.SlantTowardDeg)
	if s.StillMPS2 != [3]float64{} {
		axis := 0
		for k, v := range s.StillMPS2 {
			if math.Abs(v) > math.Abs(s.StillMPS2[axis]) {
				axis = k
			}
		}
		add("up", "axis %c of the sensor, which reads %.2f m/s² at rest", "xyz"[axis], s.StillMPS2[axis])
	}
	if s.Wraps > 0 {
		add("repaired", "the board's counter wrapped: %d", s.Wraps)
	}
	if s.ClippedSamples > 0 {
		add("clipped", "%s", counted(s.ClippedSamples, "sample"))
	}
	for _, r := range s.Repairs {
		text := fmt.Sprintf("%s: %d", r.Kind, r.Count)
		if len(r.First) > 0 {
			text += ", first " + strings.Join(r.First, "; ")
		}
		add("repaired", "%s", text)
	}
	return out
}

// printKeyed writes a key and its text, broken below itself where the line would
// pass 80 columns. Spaces within the text are kept: it may quote a log.
func printKeyed(w io.Writer, key, text string) {
	const indent = 15
	line := fmt.Sprintf("  %-12s", key)
	for _, word := range strings.Split(text, " ") {
		if n := utf8.RuneCountInString(line); n > indent && n+1+utf8.RuneCountInString(word) > columns {
			fmt.Fprintln(w, line)
			line = strings.Repeat(" ", indent-1)
		}
		line += " " + word
	}
	fmt.Fprintln(w, line)
}

// counted writes a number with its word: 1 segment, 2 segments.
func counted[N int | int64](n N, word string) string {
	if n == 1 {
		return fmt.Sprintf("1 %s", word)
	}
	return fmt.Sprintf("%d %ss", n, word)
}
