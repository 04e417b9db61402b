package corpus

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"

	"strikerose/dataset/datasettest"
)

// TestFirstFormat: a corpus that the first version of the layout left behind
// opens, by way of an upgrade once there is a second version, is whole and holds
// what it held. (testdata/format-1 is a simulated session of 10 s with two
// strikes, labelled by hand; it is never written anew.)
func TestFirstFormat(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bag")
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", "format-1"))); err != nil {
		t.Fatal(err)
	}
	from, err := Upgrade(t.Context(), dir)
	if from != 1 || err != nil {
		t.Fatalf("upgraded from %d, %v, want from 1", from, err)
	}
	c, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)
	s, err := c.Session("first")
	if err != nil {
		t.Fatal(err)
	}
	sig, err := c.Signal(t.Context(), "first")
	if err != nil {
		t.Fatal(err)
	}
	strikes, _, err := c.Strikes("first")
	if err != nil {
		t.Fatal(err)
	}
	features, err := c.Features("first")
	if err != nil {
		t.Fatal(err)
	}
	labels, err := c.Labels("first")
	if err != nil {
		t.Fatal(err)
	}
	rg, err := c.Rig(s.Rig)
	if err != nil {
		t.Fatal(err)
	}
	digest := func(values ...any) string { return fmt.Sprintf("%x", sha256.Sum256(fmt.Append(nil, values...))) }
	held, err := json.MarshalIndent(map[string]any{
		"session":  s,
		"samples":  digest(sig.TNs, sig.TRaw, sig.Segment, sig.A, sig.G),
		"strikes":  strikes,
		"features": digest(features.Names, features.Units, features.OnsetNs, features.Number, features.Rows),
		"labels":   labels,
		"rig":      rg.Key(),
	}, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	datasettest.Golden(t, "format-1.json", append(held, '\n'))
}

// testSteps are two steps of formats that do not exist: each adds a mark to who
// struck, so that a step taken twice shows. called is told of each session.
func testSteps(called func(version int, session string) error) []formatStep {
	step := func(version int) formatStep {
		return formatStep{from: version, about: "a test", session: func(ctx context.Context, c *Corpus, p place, ch *change) error {
			if err := called(version, p.session); err != nil {
				return err
			}
			s, samplesSHA, err := c.loadRow(p)
			if err != nil {
				return err
			}
			s.Striker += fmt.Sprintf(" %d", version+1)
			return c.stageRow(ctx, ch, &s, samplesSHA)
		}}
	}
	return []formatStep{step(1), step(2)}
}

func quiet(int, string) error { return nil }

// upgraded is a fixture that both test steps were taken with, in one go.
func upgraded(t *testing.T, whole *Corpus) map[string]string {
	t.Helper()
	c := copyOf(t, whole)
	from, err := upgrade(t.Context(), c.Dir(), 3, testSteps(quiet))
	if from != 1 || err != nil {
		t.Fatalf("upgraded from %d, %v, want from 1", from, err)
	}
	if c, err = open(c.Dir(), 3); err != nil {
		t.Fatal(err)
	}
	return filesOf(t, c)
}

func TestUpgrade(t *testing.T) {
	c := fixture(t)
	before := filesOf(t, c)
	if from, err := Upgrade(t.Context(), c.Dir()); from != FormatVersion || err != nil {
		t.Fatalf("upgraded from %d, %v, want nothing to do", from, err)
	}
	if !maps.Equal(before, filesOf(t, c)) {
		t.Error("an upgrade with nothing to do changes files")
	}
	if _, err := open(c.Dir(), 3); err == nil || !strings.Contains(err.Error(), "format 1 is older than 3") || !strings.Contains(err.Error(), "check -C "+c.Dir()+" --upgrade") {
		t.Errorf("an older corpus: got %v, want a refusal that names the upgrade", err)
	}
	var order []string
	if _, err := upgrade(t.Context(), c.Dir(), 3, testSteps(func(version int, session string) error {
		order = append(order, fmt.Sprint(version, " ", session))
		return nil
	})); err != nil {
		t.Fatal(err)
	}
	if want := []string{"1 friday", "1 monday", "1 tuesday", "2 friday", "2 monday", "2 tuesday"}; !reflect.DeepEqual(order, want) {
		t.Errorf("steps were taken in the order %v, want %v", order, want)
	}
	if _, err := Open(c.Dir()); err == nil || !strings.Contains(err.Error(), "update strikerose") {
		t.Errorf("a corpus from the future: got %v, want a refusal", err)
	}
	if _, err := Upgrade(t.Context(), c.Dir()); err == nil || !strings.Contains(err.Error(), "update strikerose") {
		t.Errorf("upgrading a corpus from the future: got %v, want a refusal", err)
	}
	now, err := open(c.Dir(), 3)
	if err != nil {
		t.Fatal(err)
	}
	requireProblems(t, now)
	rows, err := now.Sessions()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range rows {
		if s.Striker != "anna 2 3" {
			t.Errorf("session %s was brought over as %q, want %q", s.Name, s.Striker, "anna 2 3")
		}
	}
	after := filesOf(t, now)
	for name := range before {
		if same := before[name] == after[name]; same == (name == formatName || strings.HasPrefix(name, "sessions/")) {
			t.Errorf("%s: as it was: %t", name, same)
		}
	}
	if len(before) != len(after) {
		t.Errorf("%d files, want %d", len(after), len(before))
	}
}

// TestUpgradeCutOff stops an upgrade at every session of every step: until it is
// gone on with everybody stays away, and it ends as one in one go.
func TestUpgradeCutOff(t *testing.T) {
	whole := fixture(t)
	want := upgraded(t, whole)
	cut := errors.New("cut off")
	for after := 0; ; after++ {
		c, calls := copyOf(t, whole), 0
		_, err := upgrade(t.Context(), c.Dir(), 3, testSteps(func(int, string) error {
			if calls++; calls > after {
				return cut
			}
			return nil
		}))
		if err == nil {
			if after != 6 {
				t.Errorf("an upgrade of 3 sessions by 2 steps took %d steps", after)
			}
			return
		}
		if !errors.Is(err, cut) || !strings.Contains(err.Error(), "half done") {
			t.Fatalf("after %d: %v", after, err)
		}
		for _, format := range []int{1, 3, 4} {
			if _, err := open(c.Dir(), format); err == nil {
				t.Errorf("after %d: a program of format %d opens a corpus that is half done", after, format)
			}
		}
		if from, err := upgrade(t.Context(), c.Dir(), 3, testSteps(quiet)); err != nil || from < 1 || from > 2 {
			t.Fatalf("after %d: going on from %d: %v", after, from, err)
		}
		if c, err = open(c.Dir(), 3); err != nil {
			t.Fatal(err)
		}
		if !maps.Equal(want, filesOf(t, c)) {
			t.Errorf("after %d: another result", after)
		}
	}
}

// TestUpgradeFurther: a program that knows one format more goes on with an upgrade
// of an older one that was cut off, and brings no session over twice.
func TestUpgradeFurther(t *testing.T) {
	whole := fixture(t)
	want := upgraded(t, whole)
	c, cut, calls := copyOf(t, whole), errors.New("cut off"), 0
	if _, err := upgrade(t.Context(), c.Dir(), 2, testSteps(func(int, string) error {
		if calls++; calls > 1 {
			return cut
		}
		return nil
	})); !errors.Is(err, cut) {
		t.Fatal(err)
	}
	if from, err := upgrade(t.Context(), c.Dir(), 3, testSteps(quiet)); from != 1 || err != nil {
		t.Fatalf("going on from %d: %v", from, err)
	}
	c, err := open(c.Dir(), 3)
	if err != nil {
		t.Fatal(err)
	}
	if !maps.Equal(want, filesOf(t, c)) {
		t.Error("another result than in one go")
	}
}

const upgraderVariable = "STRIKEROSE_TEST_UPGRADE"

// TestUpgraderProcess is not a test of its own: TestKilledUpgrade runs it as the
// process that it kills.
func TestUpgraderProcess(t *testing.T) {
	dir := os.Getenv(upgraderVariable)
	if dir == "" {
		t.Skip("only runs as the child of TestKilledUpgrade")
	}
	if _, err := upgrade(t.Context(), dir, 3, testSteps(func(version int, session string) error {
		fmt.Println("step", version, session)
		return nil
	})); err != nil {
		t.Fatal(err)
	}
}

// TestKilledUpgrade kills an upgrade again and again, somewhere in each of its
// sessions; the last one ends as one in one go.
func TestKilledUpgrade(t *testing.T) {
	whole := fixture(t)
	want := upgraded(t, whole)
	c := copyOf(t, whole)
	for round := range 7 {
		child := exec.Command(os.Args[0], "-test.run=^TestUpgraderProcess$")
		child.Env = append(os.Environ(), upgraderVariable+"="+c.Dir())
		out, err := child.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		for seen := 0; seen <= round%2 && lines.Scan(); seen++ { // within the first or the second session that is left
		}
		if err := child.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
			t.Fatal(err)
		}
		_ = child.Wait()
	}
	if _, err := upgrade(t.Context(), c.Dir(), 3, testSteps(quiet)); err != nil {
		t.Fatal(err)
	}
	c, err := open(c.Dir(), 3)
	if err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)
	if !maps.Equal(want, filesOf(t, c)) {
		t.Error("another result than in one go")
	}
}

// TestUpgradeBesideWriters: an upgrade waits for nobody and breaks into nothing,
// and who opened the corpus before it writes nothing of the old format after it.
func TestUpgradeBesideWriters(t *testing.T) {
	c := fixture(t)
	release, err := c.Lock("monday")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := upgrade(t.Context(), c.Dir(), 3, testSteps(quiet)); !errors.Is(err, ErrLocked) {
		t.Errorf("an upgrade beside a writer: got %v, want ErrLocked", err)
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	if _, err := upgrade(t.Context(), c.Dir(), 3, testSteps(quiet)); err != nil {
		t.Fatal(err)
	}
	before := filesOf(t, c)
	s, sig := testSignal("sunday", testRig(t, "garage", true), 50, 9)
	for what, err := range map[string]error{
		"PutStrikes": c.PutStrikes(t.Context(), "monday", nil, Made{}),
		"PutSession": c.PutSession(t.Context(), s, sig, false),
		"PutRig":     c.PutRig(testRig(t, "cellar", true)),
	} {
		if err == nil || !strings.Contains(err.Error(), "from format 1 to 3 meanwhile") {
			t.Errorf("%s by a writer from before the upgrade: got %v, want a refusal", what, err)
		}
	}
	if !maps.Equal(before, filesOf(t, c)) {
		t.Error("a writer from before the upgrade changed files")
	}
}

func TestUpgradeRefused(t *testing.T) {
	for name, c := range map[string]struct{ mark, want string }{
		"no step":     {"format = 2\n", "no step from format 2 to 3"},
		"format 0":    {"format = 0\n", "format 0 is unknown"},
		"no format":   {"", "format 0 is unknown"},
		"backward":    {"format = 2\nupgrading_from = 2\n", "unknown"},
		"not TOML":    {"format", "corpus.toml"},
		"from beyond": {"format = 4\nupgrading_from = 1\n", "update strikerose"},
	} {
		bag := newCorpus(t)
		if err := os.WriteFile(bag.path(formatName), []byte(c.mark), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := upgrade(t.Context(), bag.Dir(), 3, testSteps(quiet)[:1]); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

// TestCreateAtOnce: of many that make a corpus at the same time one does, and
// all put their rig into it.
func TestCreateAtOnce(t *testing.T) {
	for range 20 {
		dir := filepath.Join(t.TempDir(), "new", "bag")
		errs := make([]error, 8)
		var work sync.WaitGroup
		for i := range errs {
			rg := testRig(t, []string{"garage", "attic"}[i%2], true)
			work.Go(func() {
				c, err := OpenOrCreate(dir)
				if err == nil {
					err = c.PutRig(rg)
				}
				errs[i] = err
			})
		}
		work.Wait()
		if err := errors.Join(errs...); err != nil {
			t.Fatal(err)
		}
		c, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		if rigs, err := c.Rigs(); err != nil || len(rigs) != 2 {
			t.Errorf("%d rigs, %v, want 2", len(rigs), err)
		}
		requireProblems(t, c)
	}
}
