package corpus

import (
	"context"
	"fmt"
	"io"
)

// Answer is where a detector says that a strike landed: a row of the Parquet
// table that WriteAnswers writes. Numbers that are not known are NaN.
type Answer struct {
	Session          string
	OnsetNs, ReadyNs int64 // repaired clock
	BearingDeg       float64
	Face             int // from 1
	HeightM          float64
	BearingSDDeg     float64
	HeightSDM        float64
	BearingHalf90Deg float64
	HeightHalf90M    float64
	PeakMPS2         float64
	Flags            string // joined by |; "" none
	FlipShare        float64
}

// answersTable has one row a strike, its columns those of the command's CSV.
func answersTable() *table {
	number := func(name, unit, doc string) column {
		return column{name: name, kind: kindFloat64, optional: true, unit: unit, doc: doc}
	}
	return &table{name: "answers", frame: "bag", columns: []column{
		{name: "session", kind: kindString, doc: "session name, unique in the corpus"},
		{name: "onset_s", kind: kindFloat64, unit: "s", doc: "first instant of contact, repaired clock"},
		{name: "ready_s", kind: kindFloat64, unit: "s", doc: "when the answer could be given, repaired clock"},
		number("bearing_deg", "deg", "where the strike landed, clockwise seen from above, 0 at the middle of face 1"),
		{name: "face", kind: kindInt32, optional: true, doc: "numbered clockwise from 1"},
		number("height_m", "m", "above the bag's bottom edge"),
		number("bearing_sd_deg", "deg", "circular standard deviation of the bearing"),
		number("height_sd_m", "m", "standard deviation of the height"),
		number("bearing_half90_deg", "deg", "half-width of the bearing's 90 % interval"),
		number("height_half90_m", "m", "half-width of the height's 90 % interval"),
		number("peak_mps2", "m/s2", "largest size of the horizontal specific force during contact"),
		{name: "flags", kind: kindString, optional: true, doc: "clipped, unsure, near-gap, joined by |; null none"},
		number("flip_share", "1", "stated chance that it landed on the opposite side"),
	}}
}

// WriteAnswers writes answers as a Parquet file of their own, which belongs to
// no corpus. The same answers give the same bytes.
func WriteAnswers(ctx context.Context, w io.Writer, answers []Answer) error {
	t := answersTable()
	n := len(answers)
	number := func(at func(*Answer) float64) []float64 {
		out := make([]float64, n)
		for i := range answers {
			out[i] = at(&answers[i])
		}
		return out
	}
	session, flags, face := make([]string, n), make([]string, n), make([]int32, n)
	for i, a := range answers {
		session[i], flags[i], face[i] = a.Session, a.Flags, int32(a.Face)
	}
	_, err := t.write(ctx, w, []any{
		session,
		number(func(a *Answer) float64 { return float64(a.OnsetNs) / 1e9 }),
		number(func(a *Answer) float64 { return float64(a.ReadyNs) / 1e9 }),
		number(func(a *Answer) float64 { return a.BearingDeg }),
		face,
		number(func(a *Answer) float64 { return a.HeightM }),
		number(func(a *Answer) float64 { return a.BearingSDDeg }),
		number(func(a *Answer) float64 { return a.HeightSDM }),
		number(func(a *Answer) float64 { return a.BearingHalf90Deg }),
		number(func(a *Answer) float64 { return a.HeightHalf90M }),
		number(func(a *Answer) float64 { return a.PeakMPS2 }),
		flags,
		number(func(a *Answer) float64 { return a.FlipShare }),
	}, nil)
	if err != nil {
		return fmt.Errorf("corpus: answers: %w", err)
	}
	return nil
}
