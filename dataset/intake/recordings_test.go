package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// TestRecordings measures the import of the full recordings.
func TestRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	logs, _ := filepath.Glob(filepath.Join(dir, "*", "logs", "session*"))
	if len(logs) == 0 {
		t.Fatalf("no logs in %s", dir)
	}
	for _, path := range logs {
		folder := filepath.Dir(filepath.Dir(path))
		rg, err := rig.Load(filepath.Join(folder, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		res, err := Read(context.Background(), bytes.NewReader(b), filepath.Base(folder)+"/"+filepath.Base(path), rg, Options{}, nil)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		s := res.Session
		s.LogSHA256 = ""
		j, _ := json.Marshal(s)
		t.Logf("%s %v\n%s\n  guessed %s\n  notes %s", path, time.Since(start), j, strings.Join(res.Guessed, "; "), strings.Join(res.Notes, "; "))
	}
}
