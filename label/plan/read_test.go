package plan

import (
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestRead(t *testing.T) {
	want := []Entry{{1, 4, "low", "straight", "one", nil}, {2, 6, "mid", "hook", "two", nil}, {5, 1, "high", "uppercut", "", nil}, {9, 2, "mid", "tap", "", nil}}
	for name, text := range map[string]string{
		"plain":      "order,face,band,kind,pair\n1,4,low,straight,one\n2,6,mid,hook,two\n5,1,high,uppercut,\n9,2,mid,tap,\n",
		"any order":  "\ufeffkind;pair;order;band;note;face\ntap;;9;MID;x;2\nupward;;5;high;;1\nHook;TWO;2;mid;;6\nstraight;one;1;low;;4\n",
		"short rows": "order\tface\tband\tkind\tpair\r\n1\t4\tlow\tstraight\tone\r\n2\t6\tmid\thook\ttwo\r\n5\t1\thigh\tupward\r\n9\t2\tmid\ttap\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(strings.NewReader(text), "p.csv", testRig())
			if diff := cmp.Diff(want, got); diff != "" || err != nil {
				t.Errorf("Read: %v (-want +got):\n%s", err, diff)
			}
		})
	}
}

func TestReadRefuses(t *testing.T) {
	const head = "order,face,band,kind,pair\n"
	for name, c := range map[string]struct{ text, want string }{
		"empty":        {"", "plan: p.csv: no header"},
		"no header":    {"1,4,low,straight\n", "plan: p.csv:1:1: the header lacks order, face, band, kind"},
		"no strikes":   {head, "plan: p.csv: it has a header but no strikes"},
		"face 0":       {head + "1,0,low,tap,\n", "p.csv:2:3: face 0 is not on rig test-r1: its faces are 1 to 6"},
		"face 7":       {head + "1,7,low,tap,\n", "p.csv:2:3: face 7 is not on rig"},
		"face text":    {head + "1,left,low,tap,\n", `p.csv:2:3: face "left" is not a whole number`},
		"band":         {head + "1,1,belly,tap,\n", `p.csv:2:5: band "belly" is not on rig test-r1: its bands are low, mid, high`},
		"kind":         {head + "1,1,low,kick,\n", `p.csv:2:9: kind "kick" is unknown: use one of straight, hook, uppercut, tap`},
		"pair":         {head + "1,1,low,tap,three\n", `p.csv:2:13: pair "three" is unknown`},
		"order twice":  {head + "1,1,low,tap,\n2,1,low,tap,\n1,1,low,tap,\n", "p.csv:4:1: order 1 was given on line 2 already"},
		"order absent": {head + ",1,low,tap,\n", `p.csv:2:1: order "" is not a whole number`},
		"order below":  {head + "-1,1,low,tap,\n", "p.csv:2:1: order -1 is not from 0 to 2147483647: number the strikes from 1"},
		"order beyond": {head + "20261125001,1,low,tap,\n", "p.csv:2:1: order 20261125001 is not from 0"},
		"all at once":  {head + "x,9,no,no,no\n", `p.csv:2:11: pair "no"`},
	} {
		t.Run(name, func(t *testing.T) {
			entries, err := Read(strings.NewReader(c.text), "p.csv", testRig())
			if err == nil || !strings.Contains(err.Error(), c.want) || len(entries) > 0 {
				t.Errorf("Read = %v, %v, want an error with %q", entries, err, c.want)
			}
		})
	}
}

func FuzzRead(f *testing.F) {
	f.Add("order,face,band,kind,pair\n1,4,low,straight,one\n2,6,mid,hook,two\n")
	f.Add("\ufefforder;face;band;kind\n-1;1;high;upward\n")
	f.Fuzz(func(t *testing.T, text string) {
		r := testRig()
		entries, err := Read(strings.NewReader(text), "p.csv", r)
		if (err == nil) != (len(entries) > 0) {
			t.Fatalf("%d entries with error %v", len(entries), err)
		}
		if err != nil {
			if !strings.Contains(err.Error(), "p.csv") {
				t.Errorf("an error without a place: %v", err)
			}
			return
		}
		var again strings.Builder
		if err := WriteCalled(&again, entries); err != nil {
			t.Fatal(err)
		}
		if back, err := Read(strings.NewReader(again.String()), "p.csv", r); err != nil || !reflect.DeepEqual(back, entries) {
			t.Errorf("written as %q they are read as %+v (%v), want %+v", again.String(), back, err, entries)
		}
		for i, e := range entries {
			_, _, there := r.BandRange(e.Band)
			if e.Face < 1 || e.Face > r.Faces || !there || e.Kind == "" || i > 0 && e.Order <= entries[i-1].Order {
				t.Errorf("entry %d is %+v", i, e)
			}
		}
	})
}
