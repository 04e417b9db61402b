package video

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/truth"
)

func testRig() *rig.Rig {
	return &rig.Rig{
		Name: "test", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.33}, {Name: "mid", ToM: 0.67}, {Name: "high"}, {Name: "b4"}},
		Bag:   rig.Bag{LengthM: 1},
	}
}

func at(x float64) *float64 { return &x }

func TestUnderstand(t *testing.T) {
	for text, want := range map[string]Said{
		"":                              {},
		"face 3 high hook":              {Face: 3, Band: "high", Kind: "hook"},
		"left hook, low":                {Hand: "left", Band: "low", Kind: "hook"},
		"F6; JAB (middle)?":             {Face: 6, Kind: "straight", Band: "mid", Unsure: true},
		"face #2 - light":               {Face: 2, Kind: "tap"},
		"face6. b4":                     {Face: 6, Band: "b4"},
		"bearing 300 at 0.62m":          {BearingDeg: at(300), HeightM: at(0.62)},
		"bearing -60° height 62 cm":     {BearingDeg: at(300), HeightM: at(0.62)},
		"120deg, 120 degrees":           {BearingDeg: at(120)},
		"a right cross to the front":    {Hand: "right", Kind: "straight", Face: 1},
		"hook, hook":                    {Kind: "hook"},
		"no strike":                     {NoStrike: true},
		"shove with the left":           {NoStrike: true, Hand: "left"},
		"missed the hook on face 2":     {NoStrike: true},
		"maybe upward":                  {Unsure: true, Kind: "uppercut"},
		"the bell rings":                {Unknown: []string{"bell", "rings"}},
		"wild hook 7":                   {Kind: "hook", Unknown: []string{"wild", "7"}},
		"no idea":                       {Unknown: []string{"no", "idea"}},
		"face":                          {Unknown: []string{"face"}},
		"face three low":                {Band: "low", Unknown: []string{"face", "three"}},
		"bearing":                       {},
		"bearing low":                   {Band: "low"},
		"1.2.3 1e5 --":                  {Unknown: []string{"1.2.3", "1", "e", "5"}},
		"Łow ĦOOK \u202e hook \x00\xff": {Kind: "hook", Unknown: []string{"łow", "ħook", "\u202e", "\x00\ufffd"}},
	} {
		got, err := Understand(text, testRig())
		if diff := cmp.Diff(want, got, cmpopts.IgnoreUnexported(Said{})); diff != "" || err != nil {
			t.Errorf("Understand(%q): %v (-want +got):\n%s", text, err, diff)
		}
	}
	for text, want := range map[string]string{
		"face 7":             "face 7 is not on rig test-r1: its faces are 1 to 6",
		"face 0":             "face 0 is not",
		"face 2.5":           "face 2.5 is not",
		"f1 f2":              "says face 1 and face 2",
		"low high":           "says two bands, low and high",
		"jab hook":           "says two kinds, straight and hook",
		"left right":         "says two hands",
		"10 deg 20 deg":      "says two bearings, 10 and 20",
		"361 deg":            "a bearing of 361 degrees is not between",
		"62 m":               "a height of 62 m is not on the bag of rig test-r1, which is 1 m long",
		"-0.1 m":             "a height of -0.1 m is not",
		"0.1 m or 0.2 m":     "says two heights",
		"bearing 1e400 face": "",
	} {
		_, err := Understand(text, testRig())
		if want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("Understand(%q): %v, want an error with %q", text, err, want)
		}
	}
}

func TestSeconds(t *testing.T) {
	for text, want := range map[string]float64{"4.25": 4.25, "0": 0, "1:02.5": 62.5, "1:00:01,250": 3601.25, "90:00": 5400, "12,5": 12.5} {
		if got, ok := seconds(text); !ok || got != want {
			t.Errorf("seconds(%q) = %g, %v, want %g", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "soon", "-1", "1:60", "1:2:3:4", "1.5:00", ":10", "10:", "1e3", "NaN", "1.2.3", "999999999"} {
		if got, ok := seconds(text); ok {
			t.Errorf("seconds(%q) = %g, want none", text, got)
		}
	}
}

func TestRead(t *testing.T) {
	r, err := Read(strings.NewReader("who;time;text\nben;0:05;wild hook, low\nben;2.5;\nben;7;bell\nben;8;wild bell\nben;9;maybe 10 deg, 50 cm, left, shove? wild\n"), "v.csv", testRig())
	if err != nil {
		t.Fatal(err)
	}
	var lines []int
	for _, e := range r.Entries {
		lines = append(lines, e.Line)
	}
	if diff := cmp.Diff([]int{3, 2, 6}, lines); diff != "" {
		t.Errorf("entries by time (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]Unknown{{"wild", 3, 2}, {"bell", 2, 4}}, r.Unknown); diff != "" {
		t.Errorf("unknown words (-want +got):\n%s", diff)
	}
	if len(r.Outside) != 2 {
		t.Errorf("%d rows left out, want 2", len(r.Outside))
	}
	if diff := cmp.Diff([]Count{{"face", 0}, {"bearing", 0}, {"band", 1}, {"height", 0}, {"kind", 1}, {"hand", 1}, {"no strike", 1}, {"unsure", 1}}, r.Counts()); diff != "" {
		t.Errorf("counts (-want +got):\n%s", diff)
	}
}

func TestReadRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                                  "video: v.csv: no header",
		"time_s,text\n1,hook\n":             "the header lacks time",
		"time,text\n":                       "it has a header but no strikes",
		"time,text\n1,bell\n":               "no word of it is understood",
		"time,text\nsoon,hook\n":            `v.csv:2:1: time "soon" is neither seconds nor h:mm:ss`,
		"time,text\n1,face 9\n2,hook jab\n": `v.csv:3:3: "hook jab" says two kinds`,
		"time,text\n1," + strings.Repeat("x", 501):       "v.csv:2:3: a text of 501 bytes",
		"time,text\n1,left hook, low\n":                  "beyond the header's 2 columns",
		"time,text\n1,\"face 3\n":                        "v.csv:",
		"\xff\xfet\x00i\x00m\x00e\x00,\x00":              "UTF-16",
		"time,text\n" + strings.Repeat("1,face 9\n", 99): "faults not listed: 79 more",
	} {
		if _, err := Read(strings.NewReader(text), "v.csv", testRig()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Read(%.40q): %v, want an error with %q", text, err, want)
		}
	}
}

// A video that started earlier and whose clock runs slow: each claim bears the
// onset of the strike that it is about.
func TestPlace(t *testing.T) {
	const offset, slow = 83.2, 0.9996
	onsets := []float64{2.1, 3.9, 7.2, 8.0, 12.9, 17.1, 18.4, 25.3, 31.7, 33.2, 40.4, 47.9}
	var text strings.Builder
	text.WriteString("time,text\n")
	var ns []int64
	for i, s := range onsets {
		ns = append(ns, int64(s*1e9))
		if i == 4 {
			continue // was not seen
		}
		fmt.Fprintf(&text, "%.2f,face %d%s\n", offset+slow*s+0.03*float64(i%3-1), 1+i%6, map[int]string{2: "?"}[i])
	}
	fmt.Fprintf(&text, "%.2f,shove\n%.2f,jab\n", offset+slow*44, offset-20)
	r, err := Read(strings.NewReader(text.String()), "v.csv", testRig())
	if err != nil {
		t.Fatal(err)
	}
	p, err := r.Place(t.Context(), ns, []truth.Epoch{{EndNs: 60e9}}, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	if f := p.Fits[0]; f.Pairs != 11 || f.OffsetS < offset-0.1 || f.OffsetS > offset+0.1 {
		t.Errorf("fit %+v, want 11 pairs at %g s", f, offset)
	}
	claims := r.Claims(p, ns, true)
	if len(claims) != 11+1+1 { // with the shove, and that the rest was no strike
		t.Fatalf("%d claims: %+v", len(claims), claims)
	}
	if c := claims[0]; c.OnsetNs != ns[0] || c.Face != 1 || c.Source != label.Hand || c.Note != "face 1" || c.Confidence != 1 {
		t.Errorf("the first claim is %+v", c)
	}
	if claims[2].Confidence != unsureConfidence {
		t.Errorf("the doubtful claim is %+v", claims[2])
	}
	shove := claims[10]
	if !shove.NotStrike || shove.OnsetNs < 43.8e9 || shove.OnsetNs > 44.2e9 {
		t.Errorf("the shove is %+v", shove)
	}
	if !claims[12].Complete || claims[12].Source != label.Hand {
		t.Errorf("the last claim is %+v", claims[12])
	}
	if _, err := r.Place(t.Context(), ns, []truth.Epoch{{EndNs: 60e9}}, 5); err == nil {
		t.Error("a tolerance of 5 s is taken")
	}
}

func FuzzUnderstand(f *testing.F) {
	for _, text := range []string{"face 3 high hook", "left hook, low", "bearing -60° height 62cm?", "no strike", "f1 f2", "bearing", "#.-°?"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := Understand(text, testRig())
		if err != nil {
			return
		}
		if s.Face < 0 || s.Face > 6 || s.BearingDeg != nil && !(*s.BearingDeg >= 0 && *s.BearingDeg < 360) || s.HeightM != nil && !(*s.HeightM >= 0 && *s.HeightM <= 1) {
			t.Errorf("Understand(%q) = %+v", text, s)
		}
		if s.Nothing() && len(s.Unknown) == 0 {
			t.Errorf("Understand(%q) finds nothing, and nothing unknown", text)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add("time,text\n1:02.5,face 3 high hook\n2,bell\n")
	f.Add("\ufefftext;time\n;1,5\n")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := Read(strings.NewReader(text), "v.csv", testRig())
		if (err == nil) != (len(r.Entries) > 0) {
			t.Fatalf("%d entries with error %v", len(r.Entries), err)
		}
		for i, e := range r.Entries {
			if !(e.TimeS >= 0 && e.TimeS <= maxTimeS) || i > 0 && e.TimeS < r.Entries[i-1].TimeS {
				t.Errorf("entry %d is %+v", i, e)
			}
		}
	})
}
