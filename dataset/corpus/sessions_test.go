package corpus

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset"
)

// manySessions is a corpus of n sessions on two rigs, s0 and so on, whose rows
// are there without the samples that they speak of.
func manySessions(t testing.TB, n int) *Corpus {
	t.Helper()
	c := newCorpus(t)
	for i := range n {
		rg := testRig(t, []string{"garage", "attic"}[i%2], true)
		if i < 2 {
			if err := c.PutRig(rg); err != nil {
				t.Fatal(err)
			}
		}
		s, _ := testSignal(fmt.Sprintf("s%d", i), rg, 1, uint64(i))
		s.Samples = 1_000_000
		file, err := encodeSession(t.Context(), &s, strings.Repeat("0", sealDigits))
		if err != nil {
			t.Fatal(err)
		}
		path := c.path(part("sessions", s.Rig, s.Name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, file, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

// TestOneSessionAlone: whoever asks for one session opens no file of another,
// be it damaged, and whoever asks for a rig none of another rig.
func TestOneSessionAlone(t *testing.T) {
	c := fixture(t)
	for _, table := range tables() {
		for _, other := range []place{{"garage-r1", "tuesday"}, {"attic-r1", "friday"}} {
			if err := os.WriteFile(c.path(part(table, other.rig, other.session)), []byte("rubbish"), 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	c, err := Open(c.Dir())
	if err != nil {
		t.Fatal(err)
	}
	one := map[string]func() error{
		"Session":   func() error { _, err := c.Session("monday"); return err },
		"Select":    func() error { _, err := c.Select(nil, []string{"monday"}); return err },
		"Signal":    func() error { _, err := c.Signal(t.Context(), "monday"); return err },
		"Strikes":   func() error { _, _, err := c.Strikes("monday"); return err },
		"Features":  func() error { _, err := c.Features("monday"); return err },
		"Labels":    func() error { _, err := c.Labels("monday"); return err },
		"EachChunk": func() error { return c.EachChunk(t.Context(), "monday", func(*dataset.Signal) error { return nil }) },
		"Stretches": func() error {
			s, err := c.OpenStretches("monday")
			if err != nil {
				return err
			}
			return s.Close()
		},
		"PutStrikes": func() error { return c.PutStrikes(t.Context(), "monday", testStrikes(3), Made{}) },
		"SetSession": func() error {
			_, err := c.SetSession("monday", func(s *dataset.Session) error { s.Striker = "ben"; return nil })
			return err
		},
		"Rename": func() error { _, err := c.Rename("monday", "wednesday"); return err },
	}
	for name, ask := range one {
		if name != "Rename" { // it comes last
			if err := ask(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	if err := one["Rename"](); err != nil {
		t.Errorf("Rename: %v", err)
	}
	if _, err := c.Sessions(); err == nil {
		t.Error("all sessions were read, though two rows are damaged")
	}
	if _, err := c.Select([]string{"garage"}, nil); err == nil || strings.Contains(err.Error(), "attic") {
		t.Errorf("the sessions on one rig: got %v, want an error about tuesday", err)
	}
}

// Rows come in order and those of sessions that go meanwhile are left out.
func TestSessionsInOrder(t *testing.T) {
	c := manySessions(t, 40)
	places, err := c.places("sessions")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(c.path(part("sessions", places[7].rig, places[7].session))); err != nil {
		t.Fatal(err)
	}
	rows, err := c.rows(places)
	if err != nil {
		t.Fatal(err)
	}
	places = append(places[:7], places[8:]...)
	if len(rows) != len(places) {
		t.Fatalf("%d rows, want %d", len(rows), len(places))
	}
	for i, s := range rows {
		if s.Name != places[i].session || s.Rig != places[i].rig {
			t.Errorf("row %d is of %s on %s, want %v", i, s.Name, s.Rig, places[i])
		}
	}
}
