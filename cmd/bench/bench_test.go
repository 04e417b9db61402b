package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
)

// asBench makes the test program be bench: commands here start themselves.
const asBench = "STRIKEROSE_TEST_IS_BENCH"

func TestMain(m *testing.M) {
	if os.Getenv(asBench) == "1" {
		main()
	}
	os.Exit(m.Run())
}

// bench runs one command line.
func bench(t *testing.T, args ...string) (out, errs string, status int) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(t.Context(), args, &o, &e, func(string) string { return "" })
	return o.String(), e.String(), status
}

func TestUsage(t *testing.T) {
	for _, c := range []struct {
		args   string
		status int
		says   string
	}{
		{"--help", exitDone, "peers"},
		{"", exitUsage, "a command is missing"},
		{"fly", exitUsage, `"fly" is no command`},
		{"peers --fast", exitUsage, "unknown flag"},
		{"peers --only imports", exitUsage, "--only imports"},
		{"tile log.csv", exitUsage, "either --size or --records"},
		{"tile --size 20TB log.csv", exitUsage, `"20TB" is no size`},
		{"tile --records 10 nowhere.csv", exitFailed, "nowhere.csv"},
		{"many --sessions 1", exitUsage, "--sessions of 2 or more"},
		{"linear --most 10", exitUsage, "1000000 or more"},
	} {
		out, errs, status := bench(t, strings.Fields(c.args)...)
		if status != c.status || !strings.Contains(out+errs, c.says) {
			t.Errorf("bench %s: status %d, says %q; want %d and %q", c.args, status, out+errs, c.status, c.says)
		}
	}
	for _, name := range []string{"tools", "peers", "tile", "memory", "linear", "many"} {
		if out, _, status := bench(t, name, "--help"); status != exitDone || !strings.Contains(out, "go run ./cmd/bench "+name) {
			t.Errorf("bench %s --help: status %d, no example in %q", name, status, out)
		}
	}
}

func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var out, errs bytes.Buffer
	if status := run(ctx, []string{"memory", "--scratch", t.TempDir(), "--program", "nothing"}, &out, &errs, os.Getenv); status != exitInterrupted {
		t.Errorf("status %d, want %d: %s", status, exitInterrupted, errs.String())
	}
}

func TestParseSize(t *testing.T) {
	for s, want := range map[string]int64{"1": 1, "2kB": 2000, "200MB": 200_000_000, "0.5 GB": 500_000_000, "20GB": 20_000_000_000, "7B": 7} {
		if got, err := parseSize(s); err != nil || got != want {
			t.Errorf("%q: %d, %v, want %d", s, got, err, want)
		}
	}
	for _, s := range []string{"", "GB", "-1", "0", "NaN", "1e30GB", "5 GiB"} {
		if got, err := parseSize(s); err == nil {
			t.Errorf("%q: %d, want an error", s, got)
		}
	}
}

// A contest alternates who is first, takes medians and stops on disagreement.
func TestContest(t *testing.T) {
	var order []string
	side := func(name string, walls ...float64) func(context.Context) (usage, error) {
		return func(context.Context) (usage, error) {
			order = append(order, name)
			w := walls[0]
			walls = walls[1:]
			return usage{WallS: w, CPUS: 2 * w, PeakMB: 10 * w}, nil
		}
	}
	c := &contest{name: "race", peer: "peer", ours: side("a", 1, 9, 2), theirs: side("b", 4, 5, 60)}
	o, err := c.run(t.Context(), 3)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(order, ""); got != "abbaab" {
		t.Errorf("order %s, want abbaab", got)
	}
	if o.Ours != (usage{2, 4, 20}) || o.Theirs != (usage{5, 10, 50}) || o.Ratio != 2.5 || o.CPU != 2.5 {
		t.Errorf("%+v", o)
	}
	c = &contest{name: "race", peer: "peer", ours: side("a", 1), theirs: side("b", 1),
		agree: func() (string, error) { return "", errors.New("3 and 4") }}
	if _, err := c.run(t.Context(), 1); err == nil || !strings.Contains(err.Error(), "do not agree: 3 and 4") {
		t.Errorf("%v", err)
	}
}

// The table keeps to 80 columns.
func TestOutcomesFit(t *testing.T) {
	var b strings.Builder
	printOutcomes(&b, []outcome{{Name: "import counts-csv", Samples: 3e6, Bytes: 130e6, Peer: "DuckDB", Ratio: 12.34, CPU: 0.56, Target: 5,
		Ours: usage{0.1, 12.34, 1234}, Theirs: usage{1, 98.76, 2345}, About: strings.Repeat("What the peer does not do. ", 9)}})
	for line := range strings.Lines(b.String()) {
		if len(strings.TrimRight(line, "\n")) > 80 {
			t.Errorf("%d columns: %s", len(line)-1, line)
		}
	}
}

func TestShort(t *testing.T) {
	for x, want := range map[float64]string{0.0012: "0.001", 0.5: "0.500", 1: "1.00", 12.345: "12.3", 123.45: "123", 4567.8: "4568"} {
		if got := short(x); got != want {
			t.Errorf("%g: %s, want %s", x, got, want)
		}
	}
}

// An exponent of exact powers is that power.
func TestExponent(t *testing.T) {
	n := []float64{1e5, 1e6, 1e7}
	us := []usage{{WallS: 3}, {WallS: 3e2}, {WallS: 3e4}}
	if p := exponent(n, us, func(u usage) float64 { return u.WallS }); p < 1.999 || p > 2.001 {
		t.Errorf("exponent %g, want 2", p)
	}
}

// Ours and each peer keep the same samples of the same simulated logs, scan the same
// numbers and find the same strikes with the same features.
func TestPeersAgree(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program and starts the peers")
	}
	t.Setenv(asBench, "1")
	golang := datasettest.RequireTool(t, "go", "install Go")
	a := &app{out: new(bytes.Buffer), err: t.Output(), getenv: os.Getenv, json: true, scratch: t.TempDir()}
	a.program = filepath.Join(a.scratch, "program") // built as tests are, so that most of it is there already
	if out, err := exec.CommandContext(t.Context(), golang, "build", "-o", a.program, "strikerose/cmd/strikerose").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	err := a.in(t.Context(), func(w *workspace) error {
		if _, err := a.preparePeers(w); err != nil {
			datasettest.Missing(t, "a peer", err.Error())
		}
		return a.peers(t.Context(), w, peersFlags{runs: 1, samples: 60_000, only: []string{"import", "scan", "find"}})
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"import counts-csv", "import units-csv", "import console", "import jsonl", "import frames", "scan", "find+features"} {
		if !strings.Contains(a.out.(*bytes.Buffer).String(), `"name": "`+name+`"`) {
			t.Errorf("%s was not compared", name)
		}
	}
}
