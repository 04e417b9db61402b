package intake

import (
	"os"
	"path/filepath"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// TestCommittedRecordings reads the simulated recordings kept with the tests.
func TestCommittedRecordings(t *testing.T) {
	dir := filepath.Join(datasettest.Root(t), "testdata", "recordings")
	rg, err := rig.Load(filepath.Join(dir, "hall.toml"))
	if err != nil {
		t.Fatal(err)
	}
	for name, dialect := range map[string]string{"monday.csv.zst": "counts-csv", "friday.bin.zst": "frames"} {
		log, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		s := mustRead(t, log, rg, Options{}).Session
		t.Logf("%s: %+v", name, s)
		if s.Dialect != dialect || s.Compression != "zstd" || s.Samples < 10000 || !s.HasGyro {
			t.Errorf("%s: session %+v", name, s)
		}
		if s.RateHz < 1001 || s.RateHz > 1003 {
			t.Errorf("%s: %g Hz, want 1002", name, s.RateHz)
		}
	}
}
