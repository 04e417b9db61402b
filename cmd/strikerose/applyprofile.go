package main

import (
	"context"
	"fmt"
	"io"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval/drift"
	"strikerose/models"
	"strikerose/models/firmware"
	"strikerose/models/firmware/answer"
)

// float64Profile is the usual arithmetic; the others are a board's.
const float64Profile = "float64"

// sessionAnswers is what apply found in one session, as rows or as events.
type sessionAnswers struct {
	rows   []models.ApplyRow
	events string       // lines
	seen   *models.Seen // what it is held by against those trained on; nil where that was not asked for
	unseen error        // why it cannot be
}

// answer runs the detector over a session's samples in a profile, and takes the
// numbers of the session if it is to be looked at. The samples are read once.
func (f *applyFlags) answer(ctx context.Context, c *corpus.Corpus, s dataset.Session, d models.Detector, look bool, seed uint64) (out sessionAnswers, err error) {
	r, err := c.Rig(s.Rig)
	if err != nil {
		return out, err
	}
	if err := models.CheckGyro(d, r.HasGyro() && s.HasGyro); err != nil {
		return out, fmt.Errorf("session %s: %w", s.Name, err)
	}
	if f.profile == float64Profile && !f.events && !look { // nothing needs the session whole
		o := models.WindowOptions(d, r.HasGyro() && s.HasGyro)
		err = eachWindow(ctx, c, s, r, o, func(w *dataset.Window) { out.rows = append(out.rows, models.ApplyWindow(d, r, w)) })
	} else {
		out, err = f.answerWhole(ctx, c, s, r, d, look, seed)
	}
	if err != nil {
		return sessionAnswers{}, err
	}
	for i := range out.rows {
		out.rows[i].Session = s.Name
	}
	return out, nil
}

// answerWhole does so with the session's samples held in memory.
func (f *applyFlags) answerWhole(ctx context.Context, c *corpus.Corpus, s dataset.Session, r *rig.Rig, d models.Detector, look bool, seed uint64) (out sessionAnswers, err error) {
	sig, err := c.Signal(ctx, s.Name)
	if err != nil {
		return out, err
	}
	if f.profile == float64Profile {
		if out.rows, err = models.Apply(ctx, d, r, sig); err != nil {
			return out, fmt.Errorf("session %s: %w", s.Name, err)
		}
		if f.events {
			out.events = finalEvents(sig, s.RawPerSecond, out.rows)
		}
	} else {
		v, err := firmware.NewDevice(d, r, f.profile)
		if err != nil {
			err = fmt.Errorf("session %s: %w", s.Name, err)
			if f.events {
				err = withHint(err, "--profile %s gives the final answers of any detector as events", float64Profile)
			}
			return out, err
		}
		events, err := v.Apply(ctx, sig, s.RawPerSecond)
		if err != nil {
			return out, err
		}
		out.rows = v.Rows(sig, events)
		if f.events {
			out.events = firmware.Lines(events)
		}
	}
	if look {
		seen, err := drift.Look(ctx, r, sig, seed)
		if err != nil {
			out.unseen = fmt.Errorf("session %s: %w", s.Name, err)
			return out, ctx.Err()
		}
		seen.Session = s.Name
		out.seen = &seen
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
