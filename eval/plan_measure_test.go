package eval_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/features/chain"
	"strikerose/label/plan"
	"strikerose/label/truth"
)

// plannedSession is a recording with its plan and truth, after finder and
// placement of the truth.
type plannedSession struct {
	name    string
	rg      *rig.Rig
	windows []*dataset.Window
	entries []plan.Entry
	orders  []int // of each window: the plan's order that it carries out, 0 for none
	placed  truth.Placement
}

func readPlanned(t *testing.T, planPath string) plannedSession {
	t.Helper()
	folder := filepath.Dir(filepath.Dir(planPath))
	base := strings.TrimSuffix(filepath.Base(planPath), "_plan.csv")
	s := plannedSession{name: filepath.Base(folder) + "/" + base}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
	}
	var err error
	s.rg, err = rig.Load(filepath.Join(folder, "rig.toml"))
	must(err)
	file, err := os.Open(planPath)
	must(err)
	defer file.Close()
	s.entries, err = plan.Read(file, filepath.Base(planPath), s.rg)
	must(err)
	logs, err := filepath.Glob(filepath.Join(folder, "logs", base+".*"))
	must(err)
	log, err := os.Open(logs[0])
	must(err)
	defer log.Close()
	in, err := intake.Read(t.Context(), log, filepath.Base(logs[0]), s.rg, intake.Options{}, nil)
	must(err)
	s.windows, err = chain.Run(t.Context(), s.rg, &in.Signal, eval.WholeWindow())
	must(err)

	var struck []truth.Entry
	var orders []int
	for _, row := range datasettest.Rows(t, filepath.Join(folder, "truth", base+"_truth.csv")) {
		order := 0
		if row["plan_order"] != "" {
			order = int(row.Number(t, "plan_order"))
		}
		struck, orders = append(struck, truth.Entry{TimeS: row.Number(t, "t_s")}), append(orders, order)
	}
	var onsets []int64
	for _, w := range s.windows {
		onsets = append(onsets, w.Strike.OnsetNs)
	}
	s.placed, err = truth.Match(t.Context(), struck, onsets, truth.Epochs(&in.Signal, in.Session.RawPerSecond))
	must(err)
	s.orders = make([]int, len(s.windows))
	for _, p := range s.placed.Pairs {
		s.orders[p.Onset] = orders[p.Entry]
	}
	return s
}

// planTally counts how labels by plan hit.
type planTally struct{ finds, planned, labelled, right int }

func (p *planTally) add(q planTally) {
	p.finds, p.planned, p.labelled, p.right = p.finds+q.finds, p.planned+q.planned, p.labelled+q.labelled, p.right+q.right
}

func (p planTally) String() string {
	return fmt.Sprintf("%4d finds, %4d of planned strikes; labelled %5.1f %% of finds; right entry %6.2f %% of labels",
		p.finds, p.planned, 100*float64(p.labelled)/float64(p.finds), 100*float64(p.right)/float64(p.labelled))
}

// TestMeasurePlanAlignment measures plans against the truth on the full
// recordings, with logs, finder and push features as a user has them. The
// pushes of rig A's low strikes are turned round by its dead height.
func TestMeasurePlanAlignment(t *testing.T) {
	plans, err := filepath.Glob(filepath.Join(datasettest.Recordings(t), "*", "plans", "*_plan.csv"))
	if err != nil || len(plans) == 0 {
		t.Fatalf("no plans: %v", err)
	}
	var all planTally
	var sessions []plannedSession
	for _, path := range plans {
		s := readPlanned(t, path)
		sessions = append(sessions, s)
		start := time.Now()
		a, err := plan.Align(t.Context(), s.entries, eval.PlanFinds(s.windows, s.rg), plan.Options{Faces: s.rg.Faces, Seed: 1})
		if err != nil {
			t.Errorf("%s: %v", s.name, err)
			continue
		}
		one := planTally{finds: len(s.windows)}
		for j, f := range a.Finds {
			if s.orders[j] > 0 {
				one.planned++
			}
			if f.State == plan.Labelled {
				one.labelled++
				if s.entries[f.Entry].Order == s.orders[j] {
					one.right++
				}
			}
		}
		all.add(one)
		t.Logf("%-12s %v; %v; sense by %.0f nats, %v", s.name, one, a.Chance, a.SenseNats, time.Since(start).Round(time.Millisecond))
		for _, f := range s.placed.Fits {
			t.Logf("%-12s truth: offset %.4f s, drift %.1f ppm, spread %.2f ms, %d pairs of %d onsets; %d entries missed",
				"", f.OffsetS, f.DriftPPM, f.SpreadMs, f.Pairs, f.Onsets, len(s.placed.Missed))
		}
	}
	t.Logf("%-12s %v", "all", all)
	if right := float64(all.right) / float64(all.labelled); right < 0.99 {
		t.Errorf("%.4f of labels carry the right entry, want 0.99", right)
	}
	if labelled := float64(all.labelled) / float64(all.finds); labelled < 0.94 {
		t.Errorf("%.4f of finds are labelled, want 0.94", labelled)
	}

	// Plans of other sessions of the same rig are refused.
	for i, s := range sessions {
		other := sessions[(i+1)%len(sessions)]
		if other.rg.Key() != s.rg.Key() {
			continue
		}
		a, err := plan.Align(t.Context(), other.entries, eval.PlanFinds(s.windows, s.rg), plan.Options{Faces: s.rg.Faces, Seed: 1})
		if !errors.Is(err, plan.ErrChance) {
			t.Errorf("plan of %s on %s: %v (%v)", other.name, s.name, err, a.Chance)
		}
		t.Logf("plan of %s on %s: %v", other.name, s.name, a.Chance)
	}
}
