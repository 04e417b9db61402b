package corpus

import (
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/rig"
)

func TestRoundTrip(t *testing.T) {
	for _, rg := range []*rig.Rig{testRig(t, "garage", true), testRig(t, "attic", false)} {
		for _, n := range []int{1, 2, 999, 1001, 1024, rowGroupRows, rowGroupRows + 1} {
			c := newCorpus(t)
			if err := c.PutRig(rg); err != nil {
				t.Fatal(err)
			}
			s, sig := testSignal("s", rg, n, 7)
			if err := c.PutSession(t.Context(), s, sig, false); err != nil {
				t.Fatalf("%d samples: %v", n, err)
			}
			got, err := c.Signal(t.Context(), "s")
			if err != nil {
				t.Fatalf("%d samples: %v", n, err)
			}
			if !reflect.DeepEqual(sig, got) { // many times faster than a comparison that explains
				t.Errorf("%d samples on %s: signal differs", n, rg.Key())
			}
			row, err := c.Session("s")
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(s, row); d != "" {
				t.Errorf("%d samples on %s: row differs (-put +got):\n%s", n, rg.Key(), d)
			}
		}
	}
}

func TestDerivedRoundTrip(t *testing.T) {
	c := fixture(t)
	strikes, made, err := c.Strikes("monday")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(testStrikes(6), strikes); d != "" {
		t.Errorf("strikes differ (-put +got):\n%s", d)
	}
	if want := (Made{"onset 1", "noise=auto"}); made != want {
		t.Errorf("made %v, want %v", made, want)
	}
	labels, err := c.Labels("monday")
	if err != nil {
		t.Fatal(err)
	}
	want := testLabels(strikes)
	for i := range want {
		want[i].Rig, want[i].Session = "garage-r1", "monday"
	}
	if d := cmp.Diff(want, labels); d != "" {
		t.Errorf("labels differ (-put +got):\n%s", d)
	}
	f, err := c.Features("monday")
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Rows) != 6 || f.Rows[2][2] != 1.0/3 || f.Rows[2][1] == f.Rows[2][1] || f.Units[2] != "ms" || f.Number[5] != 6 || f.Made.Tool != "features 1" {
		t.Errorf("features differ: %+v", f)
	}
}
