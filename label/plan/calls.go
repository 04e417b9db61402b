package plan

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
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
