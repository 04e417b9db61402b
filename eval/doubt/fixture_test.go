package doubt_test

import (
	"context"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/eval/doubt"
	"strikerose/features/chain"
	"strikerose/label"
	"strikerose/label/plan"
	"strikerose/models"
)

// shelf is a source in memory.
type shelf struct {
	sessions []dataset.Session
	rigs     map[string]*rig.Rig
	signals  map[string]*dataset.Signal
	claims   map[string][]label.Claim
	onsets   map[string][]int64 // of the strikes found
}

func newShelf() *shelf {
	return &shelf{rigs: map[string]*rig.Rig{}, signals: map[string]*dataset.Signal{}, claims: map[string][]label.Claim{}, onsets: map[string][]int64{}}
}

func (s *shelf) Rig(key string) (*rig.Rig, error) { return s.rigs[key], nil }
func (s *shelf) Signal(_ context.Context, session string) (*dataset.Signal, error) {
	return s.signals[session], nil
}
func (s *shelf) Claims(session string) ([]label.Claim, error) { return s.claims[session], nil }

// with returns the shelf with other claims.
func (s *shelf) with(claims map[string][]label.Claim) *shelf {
	out := *s
	out.claims = claims
	return &out
}

// withoutGyro returns the shelf as an accelerometer alone would have filled it.
func (s *shelf) withoutGyro() *shelf {
	out := newShelf()
	out.sessions, out.claims = s.sessions, s.claims
	for key, r := range s.rigs {
		plain := *r
		plain.Sensor.GyroRangeDPS = 0
		out.rigs[key] = &plain
	}
	for name, signal := range s.signals {
		plain := *signal
		plain.G = [3][]float32{}
		out.signals[name] = &plain
	}
	return out
}

// put adds a session labelled by claims made by say from its strikes.
func (s *shelf) put(t *testing.T, session dataset.Session, r *rig.Rig, signal *dataset.Signal, source string, say func(windows []*dataset.Window, strikes []dataset.Strike) []label.Claim) {
	t.Helper()
	windows, err := chain.Run(t.Context(), r, signal, eval.WholeWindow())
	if err != nil {
		t.Fatal(err)
	}
	strikes := make([]dataset.Strike, len(windows))
	for i, w := range windows {
		strikes[i] = w.Strike
		s.onsets[session.Name] = append(s.onsets[session.Name], w.Strike.OnsetNs)
	}
	s.rigs[r.Key()] = r
	session.Rig = r.Key()
	s.sessions = append(s.sessions, session)
	s.signals[session.Name] = signal
	s.claims[session.Name] = label.Revise(nil, label.Origin{Session: session.Name, Source: source, At: time.Unix(0, 0).UTC()}, say(windows, strikes))
}

// readPlanned adds a log, labelled by its plan.
func (s *shelf) readPlanned(t *testing.T, files fs.FS, r *rig.Rig, name, logName, planName string) {
	t.Helper()
	open := func(name string) fs.File {
		f, err := files.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	in, err := intake.Read(t.Context(), open(logName), path.Base(logName), r, intake.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	entries, err := plan.Read(open(planName), planName, r)
	if err != nil {
		t.Fatal(err)
	}
	in.Session.Name = name
	s.put(t, in.Session, r, &in.Signal, label.Plan, func(windows []*dataset.Window, strikes []dataset.Strike) []label.Claim {
		aligned, err := plan.Align(t.Context(), entries, eval.PlanFinds(windows, r), plan.Options{Faces: r.Faces, Seed: 1})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		return aligned.Claims(entries, strikes, r.Faces)
	})
}

// readFolders reads folders of recordings, labelled by their plans.
func readFolders(t *testing.T, dirs ...string) *shelf {
	t.Helper()
	out := newShelf()
	for _, dir := range dirs {
		r, err := rig.Load(filepath.Join(dir, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		logs, err := filepath.Glob(filepath.Join(dir, "logs", "session*"))
		if err != nil || len(logs) == 0 {
			t.Fatalf("no logs in %s: %v", dir, err)
		}
		slices.Sort(logs)
		for _, log := range logs {
			base, _, _ := strings.Cut(filepath.Base(log), ".")
			out.readPlanned(t, os.DirFS(dir), r, filepath.Base(dir)+"-"+base, "logs/"+filepath.Base(log), "plans/"+base+"_plan.csv")
		}
	}
	return out
}

// options are those of the command.
func options(t *testing.T) doubt.Options {
	t.Helper()
	rule, ok := models.FamilyByName("physics")
	fitted, too := models.FamilyByName("complex-ridge")
	if !ok || !too {
		t.Fatal("a detector is missing")
	}
	return doubt.Options{Rule: rule, Fitted: fitted, Seed: 1}
}

func find(t *testing.T, s *shelf, o doubt.Options) *doubt.Report {
	t.Helper()
	r, err := doubt.Find(t.Context(), s, s.sessions, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// recordingsFolder joins a folder of the full recordings.
func recordingsFolder(t *testing.T, names ...string) []string {
	t.Helper()
	dir := datasettest.Recordings(t)
	var out []string
	for _, n := range names {
		out = append(out, filepath.Join(dir, n))
	}
	return out
}
