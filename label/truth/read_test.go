package truth

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/rig"
)

func testRig() *rig.Rig {
	return &rig.Rig{
		Name: "test", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.33}, {Name: "mid", ToM: 0.67}, {Name: "high"}},
		Bag:   rig.Bag{LengthM: 1},
	}
}

func TestRead(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		want  []Entry
		notes string
	}{
		"least": {"time_s,bearing_deg,height_m\n2.5,-30,0.4\n1.5,390e-1,0.2\n",
			[]Entry{{TimeS: 1.5, BearingDeg: 39, HeightM: 0.2}, {TimeS: 2.5, BearingDeg: 330, HeightM: 0.4}}, ""},
		"all": {"time_s;bearing_deg;height_m;face;band;kind;bearing_sd_deg;height_sd_m\n1,5;39;0,2;2;LOW;upward;1,5;0,01\n2,5;0;0,5;;;;;\n",
			[]Entry{{1.5, 39, 0.2, 2, "low", "uppercut", 1.5, 0.01}, {TimeS: 2.5, HeightM: 0.5}}, ""},
		"extra columns": {"camera,time_s,bearing_deg,height_m,fps\nx,1,2,0.3,60\n", []Entry{{TimeS: 1, BearingDeg: 2, HeightM: 0.3}},
			"t.csv: columns ignored: camera, fps"},
		"odd face": {"time_s,bearing_deg,height_m,face\n1,2,0.3,4\n2,58,0.3,2\n",
			[]Entry{{TimeS: 1, BearingDeg: 2, HeightM: 0.3, Face: 4}, {TimeS: 2, BearingDeg: 58, HeightM: 0.3, Face: 2}},
			"t.csv: 1 of 2 strikes name a face that their bearing does not lie on: bearings must be against the bag's own marks"},
	} {
		t.Run(name, func(t *testing.T) {
			got, notes, err := Read(strings.NewReader(c.text), "t.csv", testRig())
			if diff := cmp.Diff(c.want, got); diff != "" || err != nil || strings.Join(notes, "\n") != c.notes {
				t.Errorf("Read: %v, notes %q, want %q; (-want +got):\n%s", err, notes, c.notes, diff)
			}
		})
	}
}

func TestReadRefuses(t *testing.T) {
	const head = "time_s,bearing_deg,height_m,face,band,kind,bearing_sd_deg\n"
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", "truth: t.csv: no header"},
		"header alone":  {head, "truth: t.csv: it has a header but no strikes"},
		"lacks heights": {"time_s,bearing_deg\n1,2\n", "t.csv:1:1: the header lacks height_m"},
		"time":          {head + "soon,2,0.3\n", `t.csv:2:1: time_s "soon" is not a number`},
		"no bearing":    {head + "1,,0.3\n", `t.csv:2:3: bearing_deg "" is not a number`},
		"bearing":       {head + "1,361,0.3\n", "t.csv:2:3: bearing_deg 361 is not between"},
		"NaN":           {head + "1,NaN,0.3\n", `t.csv:2:3: bearing_deg "NaN" is not a number`},
		"centimetres":   {head + "1,2,30\n", "t.csv:2:5: height_m 30 is not on the bag of rig test-r1, which is 1 m long"},
		"face":          {head + "1,2,0.3,7\n", "t.csv:2:9: face 7 is not on rig"},
		"band":          {head + "1,2,0.3,1,belly\n", `t.csv:2:11: band "belly" is not on rig`},
		"kind":          {head + "1,2,0.3,1,low,kick\n", `t.csv:2:15: kind "kick" is unknown`},
		"deviation":     {head + "1,2,0.3,1,low,tap,-1\n", "t.csv:2:19: bearing_sd_deg -1 is below 0"},
	} {
		t.Run(name, func(t *testing.T) {
			entries, _, err := Read(strings.NewReader(c.text), "t.csv", testRig())
			if err == nil || !strings.Contains(err.Error(), c.want) || entries != nil {
				t.Errorf("Read = %v, %v, want an error with %q", entries, err, c.want)
			}
		})
	}
}

func FuzzRead(f *testing.F) {
	f.Add("time_s,bearing_deg,height_m,face,band,kind\n1.5,39,0.2,2,low,hook\n")
	f.Add("\ufefftime_s;bearing_deg;height_m;x\n1e9;-1,5;0,4;\n")
	f.Fuzz(func(t *testing.T, text string) {
		r := testRig()
		entries, _, err := Read(strings.NewReader(text), "t.csv", r)
		if (err == nil) != (len(entries) > 0) {
			t.Fatalf("%d entries with error %v", len(entries), err)
		}
		for i, e := range entries {
			if !(e.BearingDeg >= 0 && e.BearingDeg < 360) || !(e.HeightM > -1 && e.HeightM < 2) || i > 0 && !(e.TimeS >= entries[i-1].TimeS) {
				t.Errorf("entry %d is %+v", i, e)
			}
		}
	})
}
