package label

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"strikerose/dataset/rig"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func number(x float64) *float64 { return &x }

// drawClaim makes a valid claim of any sort.
func drawClaim(t *rapid.T) Claim {
	text := rapid.StringN(0, 12, -1)
	c := Claim{
		Session: rapid.StringMatching(`[a-z]{1,8}`).Draw(t, "session"),
		OnsetNs: rapid.Int64Range(0, 1e12).Draw(t, "onset"),
		Source:  rapid.SampledFrom([]string{Plan, Hand, Timed}).Draw(t, "source"),
		Author:  text.Draw(t, "author"),
		At:      noon.Add(time.Duration(rapid.Int64Range(0, 1e15).Draw(t, "at"))),
		Note:    text.Draw(t, "note"),
	}
	switch rapid.IntRange(0, 3).Draw(t, "sort") {
	case 0:
		c.Complete, c.EndNs = true, c.OnsetNs+rapid.Int64Range(0, 1e9).Draw(t, "end")
	case 1:
		c.Retract, c.Supersedes = true, []string{"a", "b"}
	case 2:
		c.NotStrike = true
	default:
		c.Face = rapid.IntRange(0, 12).Draw(t, "face")
		c.Kind = rapid.SampledFrom(append(Kinds(), "")).Draw(t, "kind")
		c.Confidence = rapid.Float64Range(0, 1).Draw(t, "confidence")
		if rapid.Bool().Draw(t, "place") {
			c.BearingDeg = number(rapid.Float64Range(0, 360).Draw(t, "bearing"))
			c.HeightM = number(rapid.Float64Range(-1, 2).Draw(t, "height"))
			c.BearingSDDeg = rapid.Float64Range(0, 90).Draw(t, "sd")
		}
	}
	return c
}

func TestContentIDIsOfContentAlone(t *testing.T) {
	a := Claim{Session: "monday", OnsetNs: 5, Source: Hand, Author: "jo", At: noon, Face: 3, BearingDeg: number(121)}
	b := a
	b.At, b.ID, b.BearingDeg = noon.Add(time.Hour), "something", number(121)
	if a.ContentID() != b.ContentID() {
		t.Errorf("the same statement at another time has another ID: %s, %s", a.ContentID(), b.ContentID())
	}
	// Pinned: IDs are stored, so they may never change for the same content.
	if got, want := a.ContentID(), "388ef8e04f6f7bfd51719d5c3cdfc94e"; got != want {
		t.Errorf("ContentID = %s, want %s", got, want)
	}
	for name, change := range map[string]func(*Claim){
		"face": func(c *Claim) { c.Face = 4 }, "bearing": func(c *Claim) { c.BearingDeg = number(122) },
		"no bearing": func(c *Claim) { c.BearingDeg = nil }, "author": func(c *Claim) { c.Author = "al" },
		"onset": func(c *Claim) { c.OnsetNs++ }, "supersedes": func(c *Claim) { c.Supersedes = []string{"x"} },
	} {
		c := a
		change(&c)
		if c.ContentID() == a.ContentID() {
			t.Errorf("another %s has the same ID", name)
		}
	}
}

func TestValidateRefuses(t *testing.T) {
	good := Claim{Session: "monday", Source: Hand, At: noon, Kind: "hook"}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for want, change := range map[string]func(*Claim){
		"names no session":       func(c *Claim) { c.Session = "" },
		"unknown source":         func(c *Claim) { c.Source = "guess" },
		"when it was made":       func(c *Claim) { c.At = time.Time{} },
		"unknown kind":           func(c *Claim) { c.Kind = "kick" },
		"bearing is not a":       func(c *Claim) { c.BearingDeg = number(math.NaN()) },
		"height is not a":        func(c *Claim) { c.HeightM = number(math.Inf(1)) },
		"confidence 2":           func(c *Claim) { c.Confidence = 2 },
		"standard deviation":     func(c *Claim) { c.BearingSDDeg = -1 },
		"face -1":                func(c *Claim) { c.Face = -1 },
		"must name what":         func(c *Claim) { c.Retract = true },
		"only a complete":        func(c *Claim) { c.EndNs = 5 },
		"not valid UTF-8":        func(c *Claim) { c.Note = "\xff" },
		"confidence is not a fi": func(c *Claim) { c.Confidence = math.NaN() },
	} {
		c := good
		change(&c)
		if err := c.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Validate = %v, want one with %q", err, want)
		}
	}
}

func TestParseKind(t *testing.T) {
	for in, want := range map[string]string{"straight": "straight", " Hook ": "hook", "UPWARD": "uppercut", "uppercut": "uppercut", "tap": "tap"} {
		if got, ok := ParseKind(in); !ok || got != want {
			t.Errorf("ParseKind(%q) = %q, %v, want %q", in, got, ok, want)
		}
	}
	for _, in := range []string{"", "kick", "straight hook"} {
		if got, ok := ParseKind(in); ok {
			t.Errorf("ParseKind(%q) = %q, want a refusal", in, got)
		}
	}
}

func testRig() *rig.Rig {
	return &rig.Rig{
		Name: "test", Revision: 1, Faces: 6,
		Bands: []rig.Band{{Name: "low", ToM: 0.3}, {Name: "mid", ToM: 0.6}, {Name: "high"}},
		Bag:   rig.Bag{LengthM: 1},
	}
}

func TestPlaceOn(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		claim Claim
		want  Place
	}{
		{"named", Claim{Face: 3, Band: "high"}, Place{3, "high", 120, 0.8, AimSDDeg, AimSDM}},
		{"named, with its own scatter", Claim{Face: 3, Band: "high", BearingSDDeg: 12}, Place{3, "high", 120, 0.8, 12, AimSDM}},
		{"named in part", Claim{Face: 3, HeightM: number(0.1)}, Place{3, "low", 120, 0.1, AimSDDeg, 0}},
		{"measured", Claim{BearingDeg: number(-31), HeightM: number(0.1)}, Place{6, "low", 329, 0.1, 0, 0}},
		{"measured and named", Claim{BearingDeg: number(31), Face: 1, HeightM: number(0.31), Band: "low"}, Place{1, "low", 31, 0.31, 0, 0}},
		{"nothing", Claim{NotStrike: true}, Place{0, "", nan, nan, 0, 0}},
		{"not of this rig", Claim{Face: 7, Band: "top"}, Place{7, "top", nan, nan, 0, 0}},
	} {
		got := c.claim.PlaceOn(testRig())
		if fmt.Sprintf("%.9v", got) != fmt.Sprintf("%.9v", c.want) {
			t.Errorf("%s: PlaceOn = %+v, want %+v", c.name, got, c.want)
		}
	}
}
