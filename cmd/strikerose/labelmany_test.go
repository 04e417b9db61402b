package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/label/table"
)

// What thousands say of one session is listed and read elsewhere as it is.
func TestManyLabellersMove(t *testing.T) {
	long(t)
	gym, dir := gymWithStrikes(t)
	other := filepath.Join(dir, "other")
	if err := os.CopyFS(other, os.DirFS(gym)); err != nil {
		t.Fatal(err)
	}
	const strikes, labellers = 5, table.MaxStrikes/5 + 1
	var rows strings.Builder
	rows.WriteString("session,onset_s,face,labeller\n")
	for k := range labellers {
		for i := range strikes {
			fmt.Fprintf(&rows, "monday,%d.%03d,%d,labeller %d\n", i+1, k%20, 1+(i+k)%6, k)
		}
	}
	hand, all, moved := filepath.Join(dir, "hand.csv"), filepath.Join(dir, "all.csv"), filepath.Join(dir, "moved.csv")
	if err := os.WriteFile(hand, []byte(rows.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	mustRun(t, "label", "read", "-C", gym, hand)
	mustRun(t, "label", "list", "-C", gym, "--all", "-o", all)
	if out, want := mustRun(t, "label", "read", "-C", other, all), fmt.Sprintf("%d new, 0 stood already", strikes*labellers); !strings.Contains(out, want) {
		t.Errorf("read %q, want %q", out, want)
	}
	mustRun(t, "label", "list", "-C", other, "--all", "-o", moved)
	listed, err := os.ReadFile(all)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := os.ReadFile(moved); err != nil || string(again) != string(listed) {
		t.Errorf("what was moved is listed otherwise (%v)", err)
	}
}
