package truth

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset"
)

func TestEpochs(t *testing.T) {
	const ms = 1_000_000
	type row struct {
		tMs, raw int64
		segment  int32
	}
	for _, c := range []struct {
		name string
		per  float64
		rows []row
		want []Epoch
	}{
		{"one", 1e6, []row{{0, 5000, 0}, {10, 15000, 0}}, []Epoch{{0, 10 * ms}}},
		{"a loss", 1e6, []row{{0, 5000, 0}, {10, 15000, 0}, {900, 905020, 1}, {910, 915020, 1}}, []Epoch{{0, 910 * ms}}},
		{"a loss with the counter's wrap", 1e6, []row{{0, 1<<32 - 20000, 0}, {10, 1<<32 - 10000, 0}, {900, 880000, 1}}, []Epoch{{0, 900 * ms}}},
		{"a restart", 1e6, []row{{0, 7e8, 0}, {10, 7e8 + 10000, 0}, {11, 1200, 1}, {900, 890200, 1}}, []Epoch{{0, 10 * ms}, {11 * ms, 900 * ms}}},
		{"restart and loss, in ms", 1e3, []row{{0, 9000, 0}, {10, 9010, 0}, {12, 3, 1}, {900, 891, 1}, {2000, 1991, 2}},
			[]Epoch{{0, 10 * ms}, {12 * ms, 2000 * ms}}},
		{"a restart far ahead", 1e6, []row{{0, 100, 0}, {10, 10100, 0}, {11, 5e6, 1}}, []Epoch{{0, 10 * ms}, {11 * ms, 11 * ms}}},
		{"nothing", 1e6, nil, nil},
	} {
		var sig dataset.Signal
		for _, r := range c.rows {
			sig.TNs, sig.TRaw, sig.Segment = append(sig.TNs, r.tMs*ms), append(sig.TRaw, r.raw), append(sig.Segment, r.segment)
		}
		if diff := cmp.Diff(c.want, Epochs(&sig, c.per)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}
