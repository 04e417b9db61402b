package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
)

// A log that is cut off just after ready_s gives the same line for the strike
// as the whole log.
func TestCutAfterReady(t *testing.T) {
	long(t)
	dir := fixture(t)
	in := func(name string) string { return filepath.Join(dir, name) }
	mustRun(t, "import", "-C", in("gym"), "--rig", in("hall.toml"), in("monday.csv.zst"))
	mustRun(t, "train", "-C", in("gym"), "--detector", "kick-direction", "-o", in("rule.json"))
	whole := applyRows(t, in("gym"), in("rule.json"))

	packed, err := os.ReadFile(in("monday.csv.zst"))
	if err != nil {
		t.Fatal(err)
	}
	r, err := zstd.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var log bytes.Buffer
	if _, err := log.ReadFrom(r); err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(log.String(), "\n")
	stamp := func(line string) uint32 {
		field, _, _ := strings.Cut(line, ",")
		us, err := strconv.ParseUint(field, 10, 32)
		if err != nil {
			t.Fatal(err)
		}
		return uint32(us)
	}
	for _, k := range []int{3, 12, 25, len(whole) - 1} {
		ready, err := strconv.ParseFloat(whole[k][2], 64)
		if err != nil {
			t.Fatal(err)
		}
		end := 2 // the header and the first reading
		for end < len(lines)-1 && float64(stamp(lines[end])-stamp(lines[1])) <= ready*1e6+500 {
			end++
		}
		cut := in("monday.csv")
		if err := os.WriteFile(cut, []byte(strings.Join(lines[:end], "")), 0o644); err != nil {
			t.Fatal(err)
		}
		mustRun(t, "import", "-C", in("cut"), "--rig", in("hall.toml"), "--force", cut)
		rows := applyRows(t, in("cut"), in("rule.json"))
		if len(rows) <= k {
			t.Errorf("cut just after %s s: %d strikes, want more than %d", whole[k][2], len(rows), k)
			continue
		}
		if got, want := strings.Join(rows[k], ","), strings.Join(whole[k], ","); got != want {
			t.Errorf("cut just after ready_s the line of strike %d changes:\n got %s\nwant %s", k, got, want)
		}
	}
}

// applyRows applies a detector and returns the lines below the heading.
func applyRows(t *testing.T, corpus, detector string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(mustRun(t, "apply", "-C", corpus, "--detector", detector, "-o", "-"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 {
		t.Fatalf("apply found no strikes in %s", corpus)
	}
	return rows[1:]
}
