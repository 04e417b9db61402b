package main

import (
	"os/exec"
	"strings"
	"testing"

	"strikerose/cmd/bench/kill"
	"strikerose/testdata/recordings"
)

// Commands that are killed while they write lose nothing, and what they did is
// synced before they say so. (go run ./cmd/bench kill kills more commands, and more
// often.)
func TestKilledAnywhere(t *testing.T) {
	long(t)
	rig, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		t.Fatal(err)
	}
	const kills = 24
	r, err := kill.Run(t.Context(), kill.Options{
		Program: func(args ...string) *exec.Cmd { return program(t, args...) },
		Rig:     rig, Dir: t.TempDir(), Kills: kills, Seed: 2,
		Jobs: []string{"import of a file", "import --force", "label plan", "label serve", "session rename", "export"},
	})
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	if err := r.Print(&text); err != nil {
		t.Fatal(err)
	}
	if len(r.Faults) > 0 || r.Kills != kills {
		t.Error(text.String())
	}
}
