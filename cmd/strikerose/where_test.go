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
