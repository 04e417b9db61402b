package plan

import (
	"encoding/csv"
	"io"
	"strconv"
)

// Write writes a plan as CSV that Read reads.
func Write(w io.Writer, entries []Entry) error {
	out := csv.NewWriter(w)
	out.Write([]string{"order", "face", "band", "kind", "pair"})
	for _, e := range entries {
		out.Write([]string{strconv.Itoa(e.Order), strconv.Itoa(e.Face), e.Band, e.Kind, e.Pair})
	}
	out.Flush()
	return out.Error()
}
