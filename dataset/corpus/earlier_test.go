package corpus

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// testdata/earlier is a corpus that was written through parquet-go 0.32, with
// several pages a column and compressed by another method. It must stay
// readable, and take changes.
func TestEarlierFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bag")
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", "earlier"))); err != nil {
		t.Fatal(err)
	}
	c, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)
	const name, n = "friday", 1100
	row, sig := testSignal(name, testRig(t, "attic", false), n, 3)
	got, err := c.Signal(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(sig, got) {
		t.Error("signal differs")
	}
	kept, err := c.Session(name)
	if err != nil {
		t.Fatal(err)
	}
	row.LogSHA256, row.LogBytes = kept.LogSHA256, kept.LogBytes
	if d := cmp.Diff(row, kept); d != "" {
		t.Errorf("row differs (-want +got):\n%s", d)
	}
	strikes, _, err := c.Strikes(name)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(testStrikes(n/400), strikes); d != "" {
		t.Errorf("strikes differ (-want +got):\n%s", d)
	}
	labels, err := c.Labels(name)
	if err != nil {
		t.Fatal(err)
	}
	want := testLabels(strikes)
	for i := range want {
		want[i].Rig, want[i].Session = row.Rig, row.Name
	}
	if d := cmp.Diff(want, labels); d != "" {
		t.Errorf("labels differ (-want +got):\n%s", d)
	}
	if f, err := c.Features(name); err != nil || len(f.Rows) != n/400 || f.Rows[1][2] != 0.5 || f.Rows[1][1] == f.Rows[1][1] {
		t.Errorf("features differ: %+v, %v", f, err)
	}
	if _, err := c.Rename(name, "sunday"); err != nil {
		t.Fatal(err)
	}
	requireProblems(t, c)
}
