package main

import (
	"bytes"
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
}
