package corpus

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"strikerose/dataset/rig"
)

// TestList: sessions are listed by name with what was made of them, and that the
// files hold rubbish is nothing to it.
func TestList(t *testing.T) {
	c := newCorpus(t)
	if got, err := c.List(); err != nil || len(got) != 0 {
		t.Errorf("an empty corpus: %v, %v", got, err)
	}
	hall, attic := testRig(t, "hall", true), testRig(t, "attic", false)
	for _, r := range []*rig.Rig{hall, attic} {
		if err := c.PutRig(r); err != nil {
			t.Fatal(err)
		}
	}
	for i, name := range []string{"tuesday", "friday", "monday"} {
		s, sig := testSignal(name, []*rig.Rig{hall, attic, hall}[i], 100, uint64(i))
		keepRaw(t, c, &s)
		if err := c.PutSession(t.Context(), s, sig, false); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.PutStrikes(t.Context(), "friday", nil, Made{}); err != nil { // none found is searched, too
		t.Fatal(err)
	}
	if err := c.PutStrikes(t.Context(), "monday", nil, Made{}); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(c.JournalPath("monday")), 0o777); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{c.JournalPath("monday"), c.path(part("windows", "hall-r1", "monday")), c.path(part("sessions", "hall-r1", "tuesday"))} {
		if err := os.WriteFile(path, []byte("rubbish"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	got, err := c.List()
	want := []Listed{
		{Name: "friday", Rig: "attic-r1", Found: true},
		{Name: "monday", Rig: "hall-r1", Found: true, Labelled: true},
		{Name: "tuesday", Rig: "hall-r1"},
	}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %+v, %v, want %+v", got, err, want)
	}
}
