package eval_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/label"
	"strikerose/label/truth"
	"strikerose/models"
	committed "strikerose/testdata/recordings"
)

// evenings reads the two committed recordings.
func evenings(t *testing.T) *recordings {
	t.Helper()
	data, err := committed.Files.ReadFile("hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	rg, err := rig.Parse(data, "hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	out := newRecordings()
	out.rigs[rg.Key()] = rg
	for _, s := range []session{
		{name: "monday", striker: "p", log: "monday.csv.zst", plan: "monday-plan.csv"},
		{name: "friday", striker: "q", log: "friday.bin.zst", plan: "friday-plan.csv"},
	} {
		f, err := committed.Files.Open(s.name + "-truth.csv")
		if err != nil {
			t.Fatal(err)
		}
		if s.struck, _, err = truth.Read(f, s.name+"-truth.csv", rg); err != nil {
			t.Fatal(err)
		}
		out.read(t, committed.Files, rg, s)
	}
	return out
}

func examples(t *testing.T, src *recordings, o eval.JoinOptions) *eval.Data {
	t.Helper()
	d, err := eval.Examples(t.Context(), src, src.sessions, o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

type counter struct{ n atomic.Int64 }

func (c *counter) Add(n int64) { c.n.Add(n) }

func TestExamplesOfEvenings(t *testing.T) {
	src := evenings(t)
	var done counter
	d := examples(t, src, eval.JoinOptions{ScoreTruth: label.Timed, Workers: 1, Progress: &done})
	if done.n.Load() != 2 {
		t.Errorf("progress counts %d sessions, want 2", done.n.Load())
	}
	total := 0
	for _, c := range d.Counts {
		if c.Found != c.Scored+c.NotStrikes+c.Unlabelled {
			t.Errorf("%+v: the finds do not add up", c)
		}
		if c.Scored < 35 || c.Trained != c.Scored || c.Scored+c.OrphanLabels != c.TruthStrikes || !c.CompleteTruth {
			t.Errorf("%+v: want 35 strikes or more, all scored and trained on, against complete truth", c)
		}
		total += c.Scored
	}
	if len(d.Cases) != total {
		t.Errorf("%d cases, want %d", len(d.Cases), total)
	}
	if !slices.IsSortedFunc(d.Cases[:d.Counts[0].Scored], func(a, b eval.Case) int { return int(a.Strike.OnsetNs - b.Strike.OnsetNs) }) {
		t.Error("the cases of a session are not in order of time")
	}

	t.Run("detectors", func(t *testing.T) { compareEvenings(t, d) })
	t.Run("workers", func(t *testing.T) {
		again := examples(t, src, eval.JoinOptions{ScoreTruth: label.Timed, Workers: 2})
		if diff := cmp.Diff(d, again, cmpopts.EquateNaNs(), cmp.AllowUnexported(eval.DetectionSession{})); diff != "" {
			t.Errorf("two workers give other examples:\n%s", diff)
		}
	})
	t.Run("labels do not reach rows", func(t *testing.T) {
		moved := *src
		moved.sessions = src.sessions[:1]
		moved.claims = map[string][]label.Claim{}
		for name, claims := range src.claims {
			for _, c := range claims {
				if c.BearingDeg != nil {
					turned := bearing.Wrap360(*c.BearingDeg + 90)
					c.BearingDeg = &turned
				}
				moved.claims[name] = append(moved.claims[name], c)
			}
		}
		again := examples(t, &moved, eval.JoinOptions{ScoreTruth: label.Timed})
		for i, c := range again.Cases {
			if diff := cmp.Diff(d.Cases[i].Row, c.Row, cmpopts.EquateNaNs()); diff != "" {
				t.Fatalf("case %d: turned labels change the features:\n%s", i, diff)
			}
			if math.Abs(bearing.Diff(c.Score.BearingDeg, d.Cases[i].Score.BearingDeg)-90) > 1e-9 {
				t.Fatalf("case %d: the turned label did not arrive", i)
			}
		}
	})
	t.Run("train on the plan, score on time", func(t *testing.T) {
		d := examples(t, src, eval.JoinOptions{TrainTruth: label.Plan, ScoreTruth: label.Timed})
		both := 0
		for _, c := range d.Cases {
			if c.Train != nil && c.Score != nil {
				both++
				if c.Train.Source != label.Plan || c.Score.Source != label.Timed || math.Mod(c.Train.BearingDeg, 60) != 0 {
					t.Fatalf("trained on %+v, scored against %+v", c.Train, c.Score)
				}
			}
		}
		if both < 60 {
			t.Errorf("%d strikes have both labels, want 60 or more", both)
		}
	})
	t.Run("no labels of that truth", func(t *testing.T) {
		one := *src
		one.sessions = src.sessions[:1]
		d := examples(t, &one, eval.JoinOptions{ScoreTruth: label.Hand})
		if len(d.Cases) != 0 || d.Counts[0].Unlabelled != d.Counts[0].Found {
			t.Errorf("%d cases, %+v: want no case and every find unlabelled", len(d.Cases), d.Counts[0])
		}
	})
	t.Run("labels elsewhere", func(t *testing.T) {
		late := *src
		late.sessions = src.sessions[:1]
		late.claims = map[string][]label.Claim{}
		for name, claims := range src.claims {
			for _, c := range claims {
				if c.AboutStrike() {
					c.OnsetNs += 400_000_000
				}
				late.claims[name] = append(late.claims[name], c)
			}
		}
		d := examples(t, &late, eval.JoinOptions{ScoreTruth: label.Timed})
		if c := d.Counts[0]; c.OrphanLabels < 30 || c.NotStrikes < 30 {
			t.Errorf("%+v: want most labels without a find, and most finds no strikes", c)
		}
	})
}

// compareEvenings scores two of the detectors themselves, each on the recording
// that it has not seen.
func compareEvenings(t *testing.T, d *eval.Data) {
	var families []models.Family
	for _, name := range []string{"peak-arctangent", "kick-direction"} {
		f, ok := models.FamilyByName(name)
		if !ok {
			t.Fatalf("no detector %s", name)
		}
		families = append(families, f)
	}
	score := func(d *eval.Data) eval.Group {
		c, err := eval.Compare(t.Context(), d, families, eval.Options{Seed: 1, Resamples: 200})
		if err != nil {
			t.Fatal(err)
		}
		if f1 := c.Detection.F1.Value; f1 < 0.98 {
			t.Errorf("the finder's F1 is %.3f, want 0.98 or more", f1)
		}
		if delay := c.Detection.DelayP95Ms.Value; !(delay > 0 && delay <= 75) {
			t.Errorf("decisions take %.1f ms (95th percentile), want 75 or less", delay)
		}
		return c.Groups[0]
	}
	good := score(d)
	peak := row(t, good, "peak-arctangent").Figure(eval.BearingMAE).Value
	kick := row(t, good, "kick-direction").Figure(eval.BearingMAE).Value
	if !(kick < 15 && peak > 2*kick) {
		t.Errorf("bearing errors: kick-direction %.1f, peak-arctangent %.1f degrees; want the first below 15 and less than half the second", kick, peak)
	}
	if shuffled := row(t, score(relabel(d, 3, "monday", "friday")), "kick-direction").Figure(eval.BearingMAE).Value; shuffled < 60 {
		t.Errorf("with shuffled labels the bearing error is %.1f degrees, want that of guesses", shuffled)
	}
}

// failing is a source that cannot read signals.
type failing struct{ *recordings }

var errDisk = errors.New("disk on fire")

func (failing) Signal(context.Context, string) (*dataset.Signal, error) { return nil, errDisk }

func TestExamplesRefuses(t *testing.T) {
	src := newRecordings()
	src.rigs["hall-r1"] = &rig.Rig{Name: "hall", Revision: 1}
	one := []dataset.Session{{Name: "monday", Rig: "hall-r1"}}
	if _, err := eval.Examples(t.Context(), src, one, eval.JoinOptions{ScoreTruth: "gut"}); err == nil || !strings.Contains(err.Error(), "give one of timed, hand, plan, best") {
		t.Errorf("error %v, want the truths that there are", err)
	}
	if _, err := eval.Examples(t.Context(), src, append(one, one...), eval.JoinOptions{}); err == nil || !strings.Contains(err.Error(), "monday: given twice") {
		t.Errorf("error %v, want one about the session given twice", err)
	}
	if _, err := eval.Examples(t.Context(), failing{src}, one, eval.JoinOptions{}); !errors.Is(err, errDisk) || !strings.Contains(err.Error(), "session monday") {
		t.Errorf("error %v, want the source's own with the session", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := eval.Examples(ctx, src, one, eval.JoinOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v after cancelling", err)
	}
}
