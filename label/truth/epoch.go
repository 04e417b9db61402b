package truth

import (
	"math"

	"strikerose/dataset"
)

// Epoch is a stretch of a session between restarts of the board, on the
// session's clock. A restart of unknown length counts as zero there, so that
// against any other clock the session's jumps ahead by the pause.
type Epoch struct {
	StartNs int64 `json:"start_ns"` // first sample, nanoseconds from the session's first on the repaired clock, at least 0
	EndNs   int64 `json:"end_ns"`   // last sample, likewise, at least 0
}

// wrap is where 32-bit counters start again.
const wrap = 1 << 32

// Epochs finds the stretches between restarts of the board: segments are
// joined where the board's stamps went on as long as the repaired clock did,
// up to 32-bit wraps. rawPerSecond is the session's RawPerSecond.
func Epochs(sig *dataset.Signal, rawPerSecond float64) []Epoch {
	var out []Epoch
	for k, span := range sig.Segments() {
		start, end := sig.TNs[span.Start], sig.TNs[span.End-1]
		if k > 0 && goesOn(sig, span.Start, rawPerSecond) {
			out[len(out)-1].EndNs = end
			continue
		}
		out = append(out, Epoch{start, end})
	}
	return out
}

// goesOn tells whether the board's clock ran on from sample i-1 to sample i.
func goesOn(sig *dataset.Signal, i int, rawPerSecond float64) bool {
	seconds := float64(sig.TNs[i]-sig.TNs[i-1]) / 1e9
	raw := float64(sig.TRaw[i] - sig.TRaw[i-1])
	// A board's crystal and stamps of whole milliseconds explain this much.
	slack := rawPerSecond * (0.02*math.Abs(seconds) + 0.005)
	return math.Abs(raw-seconds*rawPerSecond) <= slack || math.Abs(raw+wrap-seconds*rawPerSecond) <= slack
}
