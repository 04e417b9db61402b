package corpus

import (
	"context"
	"errors"
	"fmt"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/shell"
)

// windowsTable has one row a strike that the finder found.
func windowsTable() *table {
	return &table{name: "windows", frame: "bag", columns: append(identity(),
		column{name: "number", kind: kindInt64, doc: "of the strike in the session, from 1"},
		column{name: "onset_ns", kind: kindInt64, delta: true, unit: "ns", doc: "first instant of contact, repaired clock"},
		column{name: "ready_ns", kind: kindInt64, delta: true, unit: "ns", doc: "when the finder could say so, repaired clock"},
		column{name: "onset_s", kind: kindFloat64, unit: "s", doc: "onset_ns in seconds"},
		column{name: "ready_s", kind: kindFloat64, unit: "s", doc: "ready_ns in seconds"},
		column{name: "segment", kind: kindInt32, doc: "of the samples table"},
		column{name: "peak_mps2", kind: kindFloat64, unit: "m/s2", doc: "largest size of the horizontal specific force during contact"},
		column{name: "clipped", kind: kindBool, doc: "an accelerometer axis reached its limit during contact"},
		column{name: "near_gap", kind: kindBool, doc: "a segment starts or ends, or samples were filled, inside the window"},
	)}
}

// PutStrikes keeps the strikes that were found in a session, in order of their
// onsets. No strike at all is a result too.
func (c *Corpus) PutStrikes(ctx context.Context, session string, strikes []dataset.Strike, made Made) error {
	if err := checkStrikes(strikes); err != nil {
		return fmt.Errorf("corpus: session %s: %w", session, err)
	}
	t := windowsTable()
	return c.putDerived(ctx, session, t, func(s *dataset.Session) ([]byte, error) {
		_, samplesSHA, err := c.loadRow(place{s.Rig, s.Name})
		if err != nil {
			return nil, err
		}
		return encodeStrikes(ctx, s, strikes, made, samplesSHA)
	})
}

func encodeStrikes(ctx context.Context, s *dataset.Session, strikes []dataset.Strike, made Made, samplesSHA string) ([]byte, error) {
	n := len(strikes)
	number, onset, ready := make([]int64, n), make([]int64, n), make([]int64, n)
	onsetS, readyS, peak := make([]float64, n), make([]float64, n), make([]float64, n)
	segment := make([]int32, n)
	clipped, nearGap := make([]bool, n), make([]bool, n)
	for i, k := range strikes {
		number[i], onset[i], ready[i] = int64(k.Number), k.OnsetNs, k.ReadyNs
		onsetS[i], readyS[i] = float64(k.OnsetNs)/1e9, float64(k.ReadyNs)/1e9
		segment[i], peak[i], clipped[i], nearGap[i] = k.Segment, k.PeakMPS2, k.Clipped, k.NearGap
	}
	return windowsTable().encode(ctx, s, []any{
		number, onset, ready, onsetS, readyS, segment, peak, clipped, nearGap,
	}, keyValue{toolKey, made.Tool}, keyValue{paramsKey, made.Params}, keyValue{fromKey, samplesSHA})
}

// Strikes returns what PutStrikes kept. The error about a session in which none
// were looked for yet holds ErrNoWindows.
func (c *Corpus) Strikes(session string) ([]dataset.Strike, Made, error) {
	var made Made
	var strikes []dataset.Strike
	err := c.readDerived(session, "windows", ErrNoWindows, "find "+shell.Line("-C", c.dir, "--sessions", session), func(file []byte) (d *decoded, err error) {
		strikes, d, err = decodeStrikes(context.Background(), file)
		if err == nil {
			made = madeOf(d)
		}
		return d, err
	})
	if err != nil {
		return nil, Made{}, err
	}
	return strikes, made, nil
}

func madeOf(d *decoded) Made { return Made{Tool: d.meta[toolKey], Params: d.meta[paramsKey]} }

func decodeStrikes(ctx context.Context, file []byte) ([]dataset.Strike, *decoded, error) {
	t := windowsTable()
	d, err := t.decode(ctx, file)
	if err != nil {
		return nil, nil, err
	}
	number := d.columns[t.index("number")].([]int64)
	onset := d.columns[t.index("onset_ns")].([]int64)
	ready := d.columns[t.index("ready_ns")].([]int64)
	segment := d.columns[t.index("segment")].([]int32)
	peak := d.columns[t.index("peak_mps2")].([]float64)
	clipped := d.columns[t.index("clipped")].([]bool)
	nearGap := d.columns[t.index("near_gap")].([]bool)
	strikes := make([]dataset.Strike, d.rows)
	for i := range strikes {
		strikes[i] = dataset.Strike{
			Number: int(number[i]), OnsetNs: onset[i], ReadyNs: ready[i], Segment: segment[i],
			PeakMPS2: peak[i], Clipped: clipped[i], NearGap: nearGap[i],
		}
	}
	return strikes, d, checkStrikes(strikes)
}

// checkStrikes verifies order and ranges.
func checkStrikes(strikes []dataset.Strike) error {
	for i, k := range strikes {
		switch {
		case k.Number != i+1:
			return fmt.Errorf("strike %d bears the number %d", i+1, k.Number)
		case i > 0 && k.OnsetNs < strikes[i-1].OnsetNs:
			return fmt.Errorf("strike %d lies before strike %d", i+1, i)
		case k.ReadyNs < k.OnsetNs:
			return fmt.Errorf("strike %d is ready before its onset", i+1)
		case math.IsNaN(k.PeakMPS2) || math.IsInf(k.PeakMPS2, 0) || k.PeakMPS2 < 0:
			return errors.New("a peak is not a size")
		}
	}
	return nil
}
