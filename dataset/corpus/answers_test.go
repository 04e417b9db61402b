package corpus

import (
	"bytes"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// Answers are written in the order of the command's columns, and read back.
func TestWriteAnswers(t *testing.T) {
	answers := []Answer{
		{Session: "monday", OnsetNs: 1_500_000_000, ReadyNs: 1_540_000_000, BearingDeg: 12.5, Face: 1, HeightM: 0.4, BearingSDDeg: 2,
			HeightSDM: 0.03, BearingHalf90Deg: 4, HeightHalf90M: 0.05, PeakMPS2: 88, Flags: "clipped|unsure", FlipShare: 0.01},
		{Session: "friday", OnsetNs: 2, ReadyNs: 3, BearingDeg: 359, Face: 1, HeightM: math.NaN(), HeightSDM: math.NaN(), HeightHalf90M: math.NaN()},
	}
	for _, rows := range [][]Answer{answers, nil} {
		var b, again bytes.Buffer
		for _, w := range []*bytes.Buffer{&b, &again} {
			if err := WriteAnswers(t.Context(), w, rows); err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Error("the same answers give two files")
		}
		d, err := answersTable().decode(t.Context(), b.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if d.rows != len(rows) {
			t.Fatalf("%d rows, want %d", d.rows, len(rows))
		}
		if len(rows) == 0 {
			continue
		}
		nan := math.NaN()
		want := []any{
			[]string{"monday", "friday"}, []float64{1.5, 2e-9}, []float64{1.54, 3e-9}, []float64{12.5, 359}, []int32{1, 1}, []float64{0.4, nan},
			[]float64{2, 0}, []float64{0.03, nan}, []float64{4, 0}, []float64{0.05, nan}, []float64{88, 0}, []string{"clipped|unsure", ""}, []float64{0.01, 0},
		}
		if diff := cmp.Diff(want, d.columns, cmpopts.EquateNaNs()); diff != "" {
			t.Errorf("columns (-want +got):\n%s", diff)
		}
	}
}
