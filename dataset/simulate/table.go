package simulate

import (
	"bufio"
	"fmt"
	"io"
	"iter"
)

// WritePlan writes a plan as CSV: order,face,band,kind,pair.
func WritePlan(w io.Writer, plan iter.Seq[Blow]) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, "order,face,band,kind,pair")
	for b := range plan {
		fmt.Fprintf(out, "%d,%d,%s,%s,%s\n", b.Order, b.Face, b.Band, b.Kind, b.Pair)
	}
	return out.Flush()
}

// WriteTruth writes strikes as CSV: time_s,bearing_deg,height_m,face,band,kind.
// Times are on the session's true clock; the log's is the board's own, which is
// off it by an offset and a drift.
func WriteTruth(w io.Writer, strikes []Strike) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, "time_s,bearing_deg,height_m,face,band,kind")
	for _, s := range strikes {
		fmt.Fprintf(out, "%.6f,%.3f,%.4f,%d,%s,%s\n", s.TimeS, s.BearingDeg, s.HeightM, s.Face, s.Band, s.Kind)
	}
	return out.Flush()
}
