package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A pattern that the shell left as it is stands for the files that match, unless a
// file is called so.
func TestMatched(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"friday.csv", "monday.csv", "notes.txt", "[1].csv"} {
		if err := os.WriteFile(name, nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir("logs", 0o755); err != nil {
		t.Fatal(err)
	}
	below := filepath.Join("logs", "tuesday.csv")
	if err := os.WriteFile(below, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for arg, want := range map[string][]string{
		"*day.csv":                     {"friday.csv", "monday.csv"},
		filepath.Join("l*s", "*.csv"):  {below},
		"[1].csv":                      {"[1].csv"},
		"?onday.csv":                   {"monday.csv"},
		"*.bin":                        {"*.bin"},
		"[":                            {"["},
		"-":                            {"-"},
		filepath.Join("none", "*.csv"): {filepath.Join("none", "*.csv")},
	} {
		if diff := cmp.Diff(want, matched([]string{arg})); diff != "" {
			t.Errorf("%s (-want +got):\n%s", arg, diff)
		}
	}
}
