package datasettest

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// Reference decodes one of the JSON files of outside values in the
// repository's testdata/reference, whose README says where each is from.
func Reference(t testing.TB, file string, into any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(Root(t), "testdata", "reference", file))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatalf("%s: %v", file, err)
	}
}

// Near tells whether got is within tol of want, as a share of want where want
// is larger than 1. Two NaNs are near.
func Near(got, want, tol float64) bool {
	if math.IsNaN(want) || math.IsInf(want, 0) {
		return got == want || math.IsNaN(got) && math.IsNaN(want)
	}
	return math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))
}
