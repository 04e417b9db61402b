package eval_test

import (
	"context"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/eval/report"
	"strikerose/features/chain"
	"strikerose/label"
	"strikerose/label/plan"
	"strikerose/label/truth"
	"strikerose/models"
)

// recordings is a source in memory, read from a folder of recordings: logs
// through intake, plans and truth tables through the alignments that a user
// has.
type recordings struct {
	sessions []dataset.Session
	rigs     map[string]*rig.Rig
	signals  map[string]*dataset.Signal
	claims   map[string][]label.Claim
}

func (r *recordings) Rig(key string) (*rig.Rig, error) { return r.rigs[key], nil }
func (r *recordings) Signal(_ context.Context, session string) (*dataset.Signal, error) {
	return r.signals[session], nil
}
func (r *recordings) Claims(session string) ([]label.Claim, error) { return r.claims[session], nil }

func newRecordings() *recordings {
	return &recordings{rigs: map[string]*rig.Rig{}, signals: map[string]*dataset.Signal{}, claims: map[string][]label.Claim{}}
}

func readRecordings(t *testing.T, dirs ...string) *recordings {
	t.Helper()
	out := newRecordings()
	for _, dir := range dirs {
		rg, err := rig.Load(filepath.Join(dir, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		out.rigs[rg.Key()] = rg
		logs, err := filepath.Glob(filepath.Join(dir, "logs", "session*"))
		if err != nil || len(logs) == 0 {
			t.Fatalf("no logs in %s: %v", dir, err)
		}
		sort.Strings(logs)
		for _, log := range logs {
			out.add(t, dir, log, rg)
		}
	}
	return out
}

// add reads one log of a folder of recordings, with its plan and truth table.
func (r *recordings) add(t *testing.T, dir, log string, rg *rig.Rig) {
	t.Helper()
	base := strings.SplitN(filepath.Base(log), ".", 2)[0]
	files := os.DirFS(dir)
	struck := truthEntries(t, filepath.Join(dir, "truth", base+"_truth.csv"))
	r.read(t, files, rg, session{
		name: filepath.Base(dir) + "-" + base, striker: strikerOf(t, filepath.Join(dir, base+".info.json")),
		log: "logs/" + filepath.Base(log), plan: "plans/" + base + "_plan.csv", struck: struck,
	})
}

// session says what a session is read from.
type session struct {
	name, striker string
	log, plan     string
	struck        []truth.Entry
}

// read reads a log and labels it by its truth and by its plan.
func (r *recordings) read(t *testing.T, files fs.FS, rg *rig.Rig, from session) {
	t.Helper()
	open := func(name string) fs.File {
		f, err := files.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	in, err := intake.Read(t.Context(), open(from.log), path.Base(from.log), rg, intake.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s := in.Session
	s.Name, s.Rig, s.Striker = from.name, rg.Key(), from.striker
	windows, err := chain.Run(t.Context(), rg, &in.Signal, eval.WholeWindow())
	if err != nil {
		t.Fatal(err)
	}
	strikes := make([]dataset.Strike, len(windows))
	onsets := make([]int64, len(windows))
	for i, w := range windows {
		strikes[i], onsets[i] = w.Strike, w.Strike.OnsetNs
	}
	placed, err := truth.Match(t.Context(), from.struck, onsets, truth.Epochs(&in.Signal, s.RawPerSecond))
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	origin := label.Origin{Session: s.Name, Source: label.Timed, At: time.Unix(0, 0).UTC()}
	claims := label.Revise(nil, origin, placed.Claims(from.struck, true))

	entries, err := plan.Read(open(from.plan), path.Base(from.plan), rg)
	if err != nil {
		t.Fatal(err)
	}
	aligned, err := plan.Align(t.Context(), entries, eval.PlanFinds(windows, rg), plan.Options{Faces: rg.Faces, Seed: 1})
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	origin.Source = label.Plan
	claims = append(claims, label.Revise(nil, origin, aligned.Claims(entries, strikes, rg.Faces))...)

	r.sessions = append(r.sessions, s)
	r.signals[s.Name] = &in.Signal
	r.claims[s.Name] = claims
}

// strikerOf finds the striker in a session's description.
func strikerOf(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(data), `"striker":"`)
	if !ok {
		t.Fatalf("%s: no striker", path)
	}
	name, _, _ := strings.Cut(rest, `"`)
	return name
}

// truthEntries reads a truth table; a strike in a gap of the power cannot be
// found and is left out.
func truthEntries(t *testing.T, path string) []truth.Entry {
	t.Helper()
	var out []truth.Entry
	for _, row := range datasettest.Rows(t, path) {
		if row["in_gap"] == "1" {
			continue
		}
		kind, ok := label.ParseKind(row["kind"])
		if !ok {
			t.Fatalf("%s: kind %q is unknown", path, row["kind"])
		}
		out = append(out, truth.Entry{TimeS: row.Number(t, "t_s"), BearingDeg: row.Number(t, "bearing_on_bag_deg"), HeightM: row.Number(t, "height_m"), Kind: kind})
	}
	return out
}

// TestCompareOnRecordings measures families on the full recordings, one session
// left out at a time, against timed truth: trained on it, and trained on plans
// alone. They are the rules and the complex ridge, unless STRIKEROSE_MEASURE lists
// others or says all. It prints the tables and holds the best fitted detector to
// the errors of a plain pipeline (peak finding, 40 hand-made features, random
// forests; measured outside the project on the same recordings).
func TestCompareOnRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	for _, r := range []struct {
		name    string
		folders []string
		plain   errorsOf
	}{
		{"A", []string{"A"}, errorsOf{13.0, 0.034}},
		{"B", []string{"B0", "B1"}, errorsOf{4.5, 0.034}},
		{"C", []string{"C"}, errorsOf{5.7, 0.025}},
	} {
		t.Run(r.name, func(t *testing.T) {
			var folders []string
			for _, f := range r.folders {
				folders = append(folders, filepath.Join(dir, f))
			}
			source := readRecordings(t, folders...)
			timed := measureRecordings(t, source, r.name, label.Timed)
			planned := measureRecordings(t, source, r.name, label.Plan)
			kept := func(of func(errorsOf) float64) float64 {
				return 100 * (of(r.plain) - of(planned)) / (of(r.plain) - of(timed))
			}
			fmt.Printf("=== rig %s: best fitted detector %.2f deg and %.2f cm, trained on plans %.2f deg and %.2f cm; a plain pipeline %.1f deg and %.1f cm; lead kept %.0f %% of bearing, %.0f %% of height\n\n",
				r.name, timed.bearingDeg, 100*timed.heightM, planned.bearingDeg, 100*planned.heightM, r.plain.bearingDeg, 100*r.plain.heightM,
				kept(func(e errorsOf) float64 { return e.bearingDeg }), kept(func(e errorsOf) float64 { return e.heightM }))
			if !(timed.bearingDeg < r.plain.bearingDeg && timed.heightM < r.plain.heightM && planned.bearingDeg < r.plain.bearingDeg) {
				t.Errorf("the best fitted detector does not beat the plain pipeline: %+v, trained on plans %+v, against %+v", timed, planned, r.plain)
			}
		})
	}
}

// errorsOf are mean errors of a detector.
type errorsOf struct{ bearingDeg, heightM float64 }

// measureRecordings prints the comparison with one kind of labels to train on
// and returns the errors of the fitted detector that is best by the criterion
// that training uses.
func measureRecordings(t *testing.T, source *recordings, name, train string) errorsOf {
	t.Helper()
	d, err := eval.Examples(t.Context(), source, source.sessions, eval.JoinOptions{TrainTruth: train, ScoreTruth: label.Timed})
	if err != nil {
		t.Fatal(err)
	}
	families := slices.DeleteFunc(models.Families(), func(f models.Family) bool {
		return !datasettest.Measured(f.Name, "complex-ridge") && f.Kind == models.Fitted
	})
	c, err := eval.Compare(t.Context(), d, families, eval.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	if err := report.Text(&text, c); err != nil {
		t.Fatal(err)
	}
	fmt.Printf("=== rig %s, trained on %s, scored on timed truth\n%s\n", name, train, text.String())
	if keep := os.Getenv("STRIKEROSE_KEEP_PAGES"); keep != "" {
		var page strings.Builder
		if err := report.HTML(&page, c, report.Meta{Corpus: "recordings " + name}); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(keep, "recordings_"+name+"_"+train+".html"), []byte(page.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if c.Detection == nil || c.Detection.F1.Value < 0.99 {
		t.Errorf("rig %s: the finder's scores are %+v, want an F1 of 0.99 or more", name, c.Detection)
	}
	var best errorsOf
	var flips float64
	least := math.Inf(1)
	for _, doc := range c.Detectors {
		if doc.Kind != models.Fitted {
			continue
		}
		r := row(t, c.Groups[0], doc.Name)
		e := errorsOf{r.Figure(eval.BearingMAE).Value, r.Figure(eval.HeightMAE).Value}
		x := c.Strikes[0]
		if criterion := eval.Criterion(e.bearingDeg, e.heightM, x.Faces, len(x.Bands), x.LengthM); criterion < least {
			best, least, flips = e, criterion, r.Figure("flip_share").Value
		}
	}
	if flips >= 0.01 {
		t.Errorf("rig %s: the best fitted detector flips %.1f %% of the strikes", name, 100*flips)
	}
	return best
}
