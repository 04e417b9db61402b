package main

import (
	"context"
	"fmt"
	"io"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/answer"
)

// float64Profile is the usual arithmetic; the others are a board's.
const float64Profile = "float64"

// sessionAnswers is what apply found in one session, as rows or as events.
type sessionAnswers struct {
	rows   []models.ApplyRow
	events string // lines
}

// answer runs the detector over a session's samples in a profile.
func (f *applyFlags) answer(ctx context.Context, c *corpus.Corpus, s dataset.Session, d models.Detector) (sessionAnswers, error) {
	if f.profile == float64Profile {
		rows, sig, err := applySession(ctx, c, s, d)
		if err != nil {
			return sessionAnswers{}, err
		}
		out := sessionAnswers{rows: rows}
		if f.events {
			out.events = finalEvents(sig, s.RawPerSecond, rows)
		}
		return out, nil
	}
	r, sig, err := recording(ctx, c, s)
	if err != nil {
		return sessionAnswers{}, err
	}
	v, err := firmware.NewDevice(d, r, f.profile)
	if err != nil {
		return sessionAnswers{}, fmt.Errorf("session %s: %w", s.Name, err)
	}
	events, err := v.Apply(ctx, sig, s.RawPerSecond)
	if err != nil {
		return sessionAnswers{}, err
	}
	out := sessionAnswers{rows: v.Rows(sig, events)}
	for i := range out.rows {
		out.rows[i].Session = s.Name
	}
	if f.events {
		out.events = firmware.Lines(events)
	}
	return out, nil
}

// finalEvents writes rows of the usual arithmetic as events: final answers alone.
func finalEvents(sig *dataset.Signal, perSecond float64, rows []models.ApplyRow) string {
	at := map[int64]int{}
	for i, t := range sig.TNs {
		at[t] = i
	}
	var events []firmware.Answered
	for n, r := range rows {
		i, ok := at[r.OnsetNs]
		if !ok { // a filled sample: the next real one
			for i < sig.Len()-1 && sig.TNs[i] < r.OnsetNs {
				i++
			}
		}
		e := answer.Event{
			TRaw: firmware.Stamp(sig.TRaw[i], perSecond), Number: uint32(n + 1), Stage: answer.Final,
			BearingDdeg: uint16(int(math.Round(r.BearingDeg*10)) % 3600), Face: uint8(r.Face), HeightMM: int16(math.Round(r.HeightM * 1000)),
		}
		for _, flag := range r.Flags {
			e.Flags |= map[string]uint8{models.FlagClipped: answer.Clipped, models.FlagUnsure: answer.Unsure, models.FlagNearGap: answer.NearGap}[flag]
		}
		events = append(events, firmware.Answered{Event: e})
	}
	return firmware.Lines(events)
}

// writeEvents writes the sessions' events one after the other.
func writeEvents(w io.Writer, all []string) error {
	for _, lines := range all {
		if _, err := io.WriteString(w, lines); err != nil {
			return err
		}
	}
	return nil
}
