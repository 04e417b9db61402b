package drift_test

import (
	"os"
	"path/filepath"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/eval/drift"
	"strikerose/models"
)

// folder is one rig's recordings.
type folder struct {
	rig      *rig.Rig
	sessions []string
	signals  []*dataset.Signal
}

func readFolder(t *testing.T, name string) folder {
	t.Helper()
	dir := filepath.Join(datasettest.Recordings(t), name)
	r, err := rig.Load(filepath.Join(dir, "rig.toml"))
	if err != nil {
		t.Fatal(err)
	}
	logs, err := filepath.Glob(filepath.Join(dir, "logs", "session*"))
	if err != nil || len(logs) == 0 {
		t.Fatalf("no logs in %s: %v", dir, err)
	}
	out := folder{rig: r}
	for _, log := range logs {
		file, err := os.Open(log)
		if err != nil {
			t.Fatal(err)
		}
		in, err := intake.Read(t.Context(), file, filepath.Base(log), r, intake.Options{}, nil)
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		out.sessions = append(out.sessions, name+" "+filepath.Base(log))
		out.signals = append(out.signals, &in.Signal)
	}
	return out
}

func (f folder) look(t *testing.T, r *rig.Rig) []models.Seen {
	t.Helper()
	var out []models.Seen
	for i, sig := range f.signals {
		seen, err := drift.Look(t.Context(), r, sig, 1)
		if err != nil {
			t.Fatal(err)
		}
		seen.Session = f.sessions[i]
		out = append(out, seen)
	}
	return out
}

// TestCompareOnRecordings holds each session of the full simulated recordings
// against the others of its rig, on which nothing of the bag changed, and the
// sessions of B1, whose sensor sits elsewhere, against those of B0 as if the rig
// file had not been changed.
func TestCompareOnRecordings(t *testing.T) {
	say := func(all []drift.Finding) (bag int) {
		for _, f := range all {
			if f.Marked {
				t.Logf("    %s: %.2f (usual %.2f), p %.2g: %s", f.Name, f.Distance, f.Usual, f.PHolm, f.Words)
				if f.Of == drift.OfBag {
					bag++
				}
			}
		}
		return bag
	}
	var b0 []models.Seen
	for _, name := range []string{"A", "B0", "B1", "C"} {
		f := readFolder(t, name)
		seen := f.look(t, f.rig)
		if name == "B0" {
			b0 = seen
		}
		for i, now := range seen {
			var others []models.Seen
			for j, s := range seen {
				if j != i {
					others = append(others, s)
				}
			}
			all, ok := drift.Compare(others, now)
			t.Logf("%s against %d others of its rig", now.Session, len(others))
			if bag := say(all); !ok || bag > 0 {
				t.Errorf("%s: the bag was not touched, yet %d of its numbers are marked", now.Session, bag)
			}
		}
	}
	before := readFolder(t, "B0").rig
	for _, now := range readFolder(t, "B1").look(t, before) {
		all, _ := drift.Compare(b0, now)
		t.Logf("%s read with the rig file of B0", now.Session)
		if say(all) == 0 {
			t.Errorf("%s: its sensor has moved, and nothing is marked", now.Session)
		}
	}
}
