package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/eval/report"
	"strikerose/label"
	"strikerose/label/agree"
)

// fewStrikes is below how many labelled strikes a face and band counts as a
// gap; farRate from which share on the board's clock is off its nominal rate.
// Common practice, no source.
const (
	fewStrikes = 5
	farRate    = 0.01
)

// addRecordingGaps says what a session's recording lacks.
func addRecordingGaps(card *report.Card, s dataset.Session) {
	add := func(format string, args ...any) {
		card.Gaps = append(card.Gaps, fmt.Sprintf("Session %s: ", s.Name)+fmt.Sprintf(format, args...))
	}
	if off := s.RateHz/s.NominalRateHz - 1; math.Abs(off) > farRate {
		add("its board ran at %.1f Hz, %+.1f %% off the rig's %.0f Hz.", s.RateHz, 100*off, s.NominalRateHz)
	}
	if s.Restarts > 0 {
		add("its board restarted (%s); how long it was off is not known.", times(s.Restarts))
	}
	if s.LostSamples > 0 && s.Samples > 0 {
		add("%s lost, %.3f %% of the samples.", counted(int(s.LostSamples), "reading"), 100*float64(s.LostSamples)/float64(s.Samples+s.LostSamples))
	}
	if s.ClippedSamples > 0 && s.Samples > 0 {
		add("%s at the accelerometer's limit, %.4f %% of the samples.", counted(int(s.ClippedSamples), "reading"), 100*float64(s.ClippedSamples)/float64(s.Samples))
	}
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// addRigGaps says what the sessions on a rig revision lack: a gyroscope, and
// faces and bands on which the preferred labels place few strikes.
func addRigGaps(card *report.Card, r *rig.Rig, said []agree.Session) {
	if !r.HasGyro() {
		card.Gaps = append(card.Gaps, fmt.Sprintf("Rig %s: no gyroscope.", r.Key()))
	}
	n := make(map[[2]int]int) // by face and position of the band
	labelled := false
	for _, s := range said {
		if s.Rig != r {
			continue
		}
		labels, _ := label.Resolve(s.Claims, s.Strikes, label.Best, label.MatchNs())
		for _, l := range labels {
			if l.Claim == nil || l.NotStrike {
				continue
			}
			labelled = true
			p := l.Claim.PlaceOn(r)
			n[[2]int{p.Face, slices.IndexFunc(r.Bands, func(b rig.Band) bool { return b.Name == p.Band })}]++
		}
	}
	var few []string
	for face := 1; face <= r.Faces; face++ {
		for i, b := range r.Bands {
			if k := n[[2]int{face, i}]; k < fewStrikes {
				few = append(few, fmt.Sprintf("face %d %s %d", face, b.Name, k))
			}
		}
	}
	if labelled && len(few) > 0 {
		card.Gaps = append(card.Gaps, fmt.Sprintf("Rig %s: fewer than %d labelled strikes on %d of %d places: %s.",
			r.Key(), fewStrikes, len(few), r.Faces*len(r.Bands), strings.Join(few, ", ")))
	}
}

// simulatedBy returns who calls the labels of a session simulated, by the
// author's name or a note; "" where nobody does.
func simulatedBy(claims []label.Claim) string {
	for _, c := range label.Standing(claims) {
		if strings.Contains(strings.ToLower(c.Author+" "+c.Note), "simulat") {
			return c.Author
		}
	}
	return ""
}
