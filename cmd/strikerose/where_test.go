package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// At a terminal a command on the way says what to run next, with what lies beside
// the corpus; in a pipe, with --quiet and with --json nothing does.
func TestTellsNext(t *testing.T) {
	dir := fixture(t)
	in := func(name string) string { return filepath.Join(dir, name) }
	gym := []string{"-C", in("gym")}
	for _, c := range []struct {
		name     string
		terminal bool
		args     []string
		want     string // "" for nothing
	}{
		{"pipe", false, append(gym, "rig", "show", in("hall.toml")), ""},
		{"quiet", true, append(gym, "--quiet", "rig", "show", in("hall.toml")), ""},
		{"json", true, append(gym, "--json", "rig", "show", in("hall.toml")), ""},
		{"not on the way", true, append(gym, "detectors"), ""},
		{"no corpus", true, []string{"-C", dir, "rig", "show", in("hall.toml")}, "Next: strikerose import -C gym --rig " + in("hall.toml") + " " + in("friday.bin.zst") + "\n"},
		{"imported", true, append(gym, "import", "--rig", in("hall.toml"), in("friday.bin.zst")), "Next: strikerose find -C " + in("gym") + "\n"},
		{"found", true, append(gym, "find"), "Next: strikerose label plan -C " + in("gym") + " --session friday " + in("friday-plan.csv") + "\n"},
		{"checked", true, append(gym, "check"), "Next: strikerose label plan -C " + in("gym") + " --session friday " + in("friday-plan.csv") + "\n"},
	} {
		var out, errs bytes.Buffer
		w := testWorld(&out, &errs)
		w.terminal = c.terminal
		if status := run(t.Context(), c.args, w); status != exitDone {
			t.Fatalf("%s: exit status %d:\n%s", c.name, status, errs.String())
		}
		if c.want == "" && strings.Contains(errs.String(), "Next:") || !strings.Contains(errs.String(), c.want) {
			t.Errorf("%s: want %q in:\n%s", c.name, c.want, errs.String())
		}
		if c.name == "found" { // another corpus beside, whose name comes first, changes nothing
			if err := os.CopyFS(in("attic"), os.DirFS(in("gym"))); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// After a command the next step goes by names alone, so that it costs the same
// however much the corpus holds; without a command, damage is told.
func TestTellsNextUnread(t *testing.T) {
	dir := fixture(t)
	in := func(name string) string { return filepath.Join(dir, name) }
	mustRun(t, "import", "-C", in("gym"), "--rig", in("hall.toml"), in("friday.bin.zst"))
	mustRun(t, "find", "-C", in("gym"))
	for _, table := range []string{"sessions", "windows"} {
		parts, err := filepath.Glob(in("gym/" + table + "/*/*/*.parquet"))
		if err != nil || len(parts) != 1 {
			t.Fatalf("%s: %v, %v", table, parts, err)
		}
		if err := os.WriteFile(parts[0], []byte("rubbish"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Remove(in("monday.csv.zst")); err != nil { // no log may be left to import
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	w := testWorld(&out, &errs)
	w.terminal = true
	if status := run(t.Context(), []string{"-C", in("gym"), "rig", "show", in("hall.toml")}, w); status != exitDone {
		t.Fatalf("exit status %d:\n%s", status, errs.String())
	}
	if want := "Next: strikerose label plan -C " + in("gym") + " --session friday "; !strings.Contains(errs.String(), want) {
		t.Errorf("want %q in:\n%s", want, errs.String())
	}
	status, _, told := inProcess(t, "-C", in("gym"))
	if status != exitUsage || !strings.Contains(told, "warning: corpus: sessions/rig=hall-r1/session=friday/part-0.parquet: ") {
		t.Errorf("exit status %d:\n%s", status, told)
	}
}

// A log is not proposed once it was imported, under its own name or another.
func TestProposesLogsOnce(t *testing.T) {
	for name, want := range map[string]int{"friday": 0, "evening": 0} {
		dir := fixture(t)
		in := func(name string) string { return filepath.Join(dir, name) }
		mustRun(t, "import", "-C", in("gym"), "--rig", in("hall.toml"), "--session", name, in("friday.bin.zst"))
		if err := os.Remove(in("monday.csv.zst")); err != nil {
			t.Fatal(err)
		}
		p, err := (&app{dir: dir}).look("")
		if err == nil {
			err = p.read()
		}
		if err != nil || len(p.logs) != want {
			t.Errorf("session %s: %v, %v", name, p.logs, err)
		}
	}
}

// What a step has just done is not what comes next, wherever its output went.
func TestStepIsDone(t *testing.T) {
	labelled := place{corpus: "gym", sessions: []string{"monday", "friday"}}
	for _, c := range []struct{ step, out, want string }{
		{"find", "", "strikerose compare "},
		{"compare", "", "strikerose train "},
	} {
		p := labelled
		p.did(c.step, c.out)
		if command, _ := p.next(); !strings.HasPrefix(command, c.want) {
			t.Errorf("after %s: %s, want %s", c.step, command, c.want)
		}
	}
	p := labelled
	p.compared = true
	if p.did("train", "models/d.json"); p.detector != "models/d.json" {
		t.Errorf("after train: detector %q", p.detector)
	}
	if p.did("train", "-"); p.detector != "models/d.json" {
		t.Errorf("standard output is no file: detector %q", p.detector)
	}
}

func TestPlanOfSession(t *testing.T) {
	p := place{plans: []string{"evening10-plan.csv", "evening2-plan.csv"}, bare: []string{"evening1", "evening2"}}
	for session, want := range map[string]string{"evening1": "PLAN.csv", "evening2": "evening2-plan.csv", "evening10": "evening10-plan.csv"} {
		if got := p.planOf(session); got != want {
			t.Errorf("%s: %s, want %s", session, got, want)
		}
	}
	if got, want := p.toLabel(), "evening2 evening2-plan.csv"; got != want { // the first has none yet
		t.Errorf("to label: %s, want %s", got, want)
	}
	p.plans = nil
	if got, want := p.toLabel(), "evening1 PLAN.csv"; got != want {
		t.Errorf("to label without a plan: %s, want %s", got, want)
	}
}
