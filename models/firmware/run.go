package firmware

import (
	"context"
	"fmt"
	"math"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features/chain/board"
	"strikerose/models"
	"strikerose/models/firmware/answer"
)

// Answered is an event with where it belongs in the samples.
type Answered struct {
	answer.Event
	Onset int // position of the sample in which contact began
	Ready int // of the newest sample that the answer used
}

// Samples brings a signal back to the counts and stamps that the board saw.
// Stamps of another unit than microseconds, of which there are perSecond in a
// second, become microseconds; they wrap at 2^32 as a board's do.
func Samples(r *rig.Rig, sig *dataset.Signal, perSecond float64) []board.Sample {
	units := board.UnitsOf(r)
	out := make([]board.Sample, sig.Len())
	for i := range out {
		s := &out[i]
		s.TUs = Stamp(sig.TRaw[i], perSecond)
		for k := range 3 {
			s.A[k] = count(float64(sig.A[k][i]) / units.AccelMPS2)
			if units.GyroRadps > 0 && sig.HasGyro() {
				s.G[k] = count(float64(sig.G[k][i]) / units.GyroRadps)
			}
		}
	}
	return out
}

// Stamp is a stamp in microseconds, of a log with perSecond units in a second.
func Stamp(raw int64, perSecond float64) uint32 {
	if perSecond == 1e6 || !(perSecond > 0) {
		return uint32(raw)
	}
	return uint32(int64(math.Round(float64(raw) * 1e6 / perSecond)))
}

// count rounds to a count that 16 bits hold; what is no number counts as 0.
func count(x float64) int16 {
	if math.IsNaN(x) {
		return 0
	}
	return int16(math.Min(math.Max(math.Round(x), math.MinInt16), math.MaxInt16))
}

// Run sends samples through the detector as one recording.
func (v *Device) Run(ctx context.Context, samples []board.Sample) ([]Answered, error) {
	d := v.New()
	var out []Answered
	begun := 0
	var e answer.Event
	take := func(ready bool, last int) {
		for ; ready; ready = d.Next(&e) {
			at := last
			for at > begun && samples[at].TUs != e.TRaw {
				at--
			}
			out = append(out, Answered{Event: e, Onset: at, Ready: last})
		}
	}
	for i := range samples {
		if i%65536 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		ready := d.Push(&samples[i], &e)
		if d.Fresh() { // what is ready belongs to the segment that is over
			take(ready, max(i-1, 0))
			begun = i
			continue
		}
		take(ready, i)
	}
	take(d.Flush(&e), max(len(samples)-1, 0))
	return out, nil
}

// Line writes an event as replay.c does.
func Line(e *answer.Event) string {
	return fmt.Sprintf("%d,%d,%d,%d,%d,%d,%d", e.TRaw, e.Number, e.Stage, e.BearingDdeg, e.Face, e.HeightMM, e.Flags)
}

// Rows turns final answers into the rows of apply. What is stated beside them is
// that of a usual strike on this rig: a board does not weigh strike by strike.
func (v *Device) Rows(sig *dataset.Signal, events []Answered) []models.ApplyRow {
	var out []models.ApplyRow
	for _, e := range events {
		if e.Stage != answer.Final || e.Flags&answer.Retracted != 0 {
			continue
		}
		row := models.ApplyRow{
			OnsetNs: sig.TNs[e.Onset], ReadyNs: sig.TNs[e.Ready],
			Face: int(e.Face), PeakMPS2: float64(e.Peak) / 100,
		}
		row.Estimate = v.stating(e.Certainty)
		row.BearingDeg, row.HeightM = float64(e.BearingDdeg)/10, float64(e.HeightMM)/1000
		row.Unsure = e.Flags&answer.Unsure != 0
		for _, f := range []struct {
			bit  uint8
			name string
		}{{answer.Clipped, models.FlagClipped}, {answer.Unsure, models.FlagUnsure}, {answer.NearGap, models.FlagNearGap}} {
			if e.Flags&f.bit != 0 {
				row.Flags = append(row.Flags, f.name)
			}
		}
		out = append(out, row)
	}
	return out
}

// stating is what is stated beside an answer of a certainty code.
func (v *Device) stating(code uint8) models.Estimate {
	length := v.Rig.Bag.LengthM
	e := v.stated.Usual()
	e.Guess = code != answer.Usual
	if code == answer.Guess {
		e.BearingSDDeg, e.BearingHalf90Deg = math.Max(e.BearingSDDeg, 100), 180
		e.HeightSDM, e.HeightHalf90M = math.Max(e.HeightSDM, length/math.Sqrt(12)), math.Max(e.HeightHalf90M, length/2)
	}
	return e
}

// Apply runs the detector over a signal.
func (v *Device) Apply(ctx context.Context, sig *dataset.Signal, perSecond float64) ([]Answered, error) {
	return v.Run(ctx, Samples(v.Rig, sig, perSecond))
}

// Lines joins the lines of events.
func Lines(events []Answered) string {
	var b strings.Builder
	for i := range events {
		b.WriteString(Line(&events[i].Event) + "\n")
	}
	return b.String()
}
