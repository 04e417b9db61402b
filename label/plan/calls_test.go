package plan

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func called(s float64) *float64 { return &s }

// What WriteCalled writes, Read reads.
func TestWriteCalled(t *testing.T) {
	want := []Entry{{1, 4, "low", "straight", "one", called(3.25)}, {2, 6, "mid", "hook", "two", called(3.25)}, {5, 1, "high", "uppercut", "", nil}}
	var text strings.Builder
	if err := WriteCalled(&text, want); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(text.String(), "order,face,band,kind,pair,call_s\n1,4,low,straight,one,3.250\n") {
		t.Errorf("written:\n%s", text.String())
	}
	got, err := Read(strings.NewReader(text.String()), "p.csv", testRig())
	if diff := cmp.Diff(want, got); diff != "" || err != nil {
		t.Errorf("Read: %v (-want +got):\n%s", err, diff)
	}
}

func TestReadRefusesCalls(t *testing.T) {
	for text, want := range map[string]string{
		"order,face,band,kind,call_s\n1,4,low,tap,soon\n":             `p.csv:2:13: call_s "soon" is not a number`,
		"order,face,band,kind,call_s\n1,4,low,tap,5\n2,4,low,tap,3\n": "strike 2 was called at 3 s, before the one ahead of it",
	} {
		if _, err := Read(strings.NewReader(text), "p.csv", testRig()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Read: %v, want %q", err, want)
		}
	}
}
