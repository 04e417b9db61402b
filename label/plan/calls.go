package plan

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
)

// checkCalls refuses calls whose times do not rise with the order.
func checkCalls(entries []Entry) error {
	last := math.Inf(-1)
	for _, e := range entries {
		if e.CallS == nil {
			continue
		}
		if *e.CallS < last {
			return fmt.Errorf("strike %d was called at %g s, before the one ahead of it at %g s: give all call_s on one clock, in order", e.Order, *e.CallS, last)
		}
		last = *e.CallS
	}
	return nil
}

// WriteCalled writes a plan with the times of its calls that Read reads: CSV
// with order, face, band, kind, pair and call_s, empty where there was no call.
func WriteCalled(w io.Writer, entries []Entry) error {
	out := csv.NewWriter(w)
	out.Write([]string{"order", "face", "band", "kind", "pair", "call_s"}) // errors stay until Flush
	for _, e := range entries {
		call := ""
		if e.CallS != nil {
			call = strconv.FormatFloat(*e.CallS, 'f', 3, 64)
		}
		out.Write([]string{strconv.Itoa(e.Order), strconv.Itoa(e.Face), e.Band, e.Kind, e.Pair, call})
	}
	out.Flush()
	return out.Error()
}

// Constants of how strikes follow calls; common practice, no source.
const (
	callSDS     = 0.35 // scatter of the time from a call to its strike, seconds
	callGain    = 20.0 // how much likelier a strike just then is than at any time
	callElse    = 0.02 // the same far away from then, and for an entry that was never called
	callShare   = 0.5  // of the strikes that must follow a call alike for the calls to count
	fewestCalls = 5
)

// callRatios returns, by find and entry ([find*entries+entry]), how much
// likelier it makes them a match that the one was struck when the other was
// called; nil where the plan has too few calls, or where no one shift brings
// them onto the finds: then they belong to another clock or session.
func callRatios(entries []Entry, finds []Find) []float64 {
	shift, ok := callShift(entries, finds)
	if !ok {
		return nil
	}
	out := make([]float64, len(finds)*len(entries))
	for j, f := range finds {
		for i, e := range entries {
			ratio := callElse
			if e.CallS != nil {
				off := (f.TimeS - *e.CallS - shift) / callSDS
				ratio += callGain * math.Exp(-off*off/2)
			}
			out[j*len(entries)+i] = ratio
		}
	}
	return out
}

// callRatio is one of the ratios, 1 where calls do not count.
func (m *model) callRatio(find, entry int) float64 {
	if m.calls == nil {
		return 1
	}
	return m.calls[find*len(m.class)+entry]
}

// callShift finds the shift between the clocks, the usual time from a call to
// its strike included: the one by which most strikes follow a call, to within
// twice their scatter.
func callShift(entries []Entry, finds []Find) (shiftS float64, ok bool) {
	var shifts []float64
	calls := 0
	for _, e := range entries {
		if e.CallS == nil {
			continue
		}
		calls++
		for _, f := range finds {
			shifts = append(shifts, f.TimeS-*e.CallS)
		}
	}
	if calls < fewestCalls {
		return 0, false
	}
	slices.Sort(shifts)
	most, first := 0, 0
	for end, s := range shifts {
		for s-shifts[first] > 2*callSDS {
			first++
		}
		if n := end - first + 1; n > most {
			most, shiftS = n, shifts[first+n/2]
		}
	}
	return shiftS, float64(most) >= callShare*float64(min(calls, len(finds)))
}
