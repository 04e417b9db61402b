package firmware_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models/firmware"
)

// TestRecordings exports every detector, trained on the committed recordings,
// for each rig of the full ones, with that rig's strikes as golden vectors.
func TestRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	files, err := filepath.Glob(filepath.Join(dir, "*", "rig.toml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no rigs in %s, %v", dir, err)
	}
	for _, file := range files {
		r, err := rig.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		logs, err := filepath.Glob(filepath.Join(filepath.Dir(file), "logs", "session*"))
		if err != nil || len(logs) == 0 {
			t.Fatalf("%s: no logs, %v", file, err)
		}
		rows := rowsOf(t, logs[0], r)
		for _, d := range detectors() {
			own := *r
			if !d.gyro {
				own.Sensor.GyroRangeDPS = 0
			}
			b, err := firmware.Export(trained(t, d), &own, rows, firmware.Options{})
			if err != nil {
				t.Errorf("%s on %s: %v", d.name, r.Key(), err)
				continue
			}
			out, err := exec.Command(compiled(t, written(t, b), strict()...)).CombinedOutput()
			if err != nil {
				t.Errorf("%s on %s: %v", d.name, r.Key(), err)
			}
			t.Logf("%s on %s: %+v\n%s", d.name, r.Key(), tableOf(t, b).Vectors, out)
		}
	}
}

func rowsOf(t *testing.T, path string, r *rig.Rig) []features.Row {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	read, err := intake.Read(t.Context(), f, filepath.Base(path), r, intake.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	pre, post := features.Longest()
	windows, err := chain.Run(t.Context(), r, &read.Signal, chain.Options{PreMs: pre, PostMs: post})
	if err != nil {
		t.Fatal(err)
	}
	var rows []features.Row
	for _, w := range windows {
		rows = append(rows, features.Extract(w, r, nil))
	}
	return rows
}
