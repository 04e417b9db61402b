package sheet

import (
	"encoding/csv"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
	"strikerose/dataset/datasettest"
	"strikerose/label"
	"strikerose/label/table"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 5, time.UTC)

func options(t testing.TB) Options {
	r := datasettest.Rig(t)
	return Options{Labeller: "jo", Of: func(name string) (Session, error) {
		if name != "monday" {
			return Session{}, fmt.Errorf("session %q: %w", name, errors.New("unknown session"))
		}
		return Session{Rig: r, DurationS: 60}, nil
	}}
}

// TestRowsOfOneSession: however many labels there are of a session, they are read
// as long as no labeller says too many of one moment.
func TestRowsOfOneSession(t *testing.T) {
	const n = 2*table.MaxStrikes + 1
	rows := func(gapNs int64, labellers int) string {
		var b strings.Builder
		b.WriteString("session,onset_s,labeller\n")
		for i := range n {
			fmt.Fprintf(&b, "monday,%.7f,jo%d\n", float64(int64(i)*gapNs)/1e9, i%labellers)
		}
		return b.String()
	}
	for name, c := range map[string]struct {
		gapNs     int64
		labellers int
		says      string
	}{
		"one labeller":                {1_000_000, 1, ""},
		"as many as may lie together": {250_100, 1, ""}, // 50 ms / 200, and a little
		"one more":                    {249_900, 1, `t.csv:202:8: more than 200 labels of "jo0", source hand, lie within 50 ms in session monday`},
		"by thousands":                {1000, 10_000, ""},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(strings.NewReader(rows(c.gapNs, c.labellers)), "t.csv", options(t))
			switch {
			case c.says == "" && (err != nil || len(got) != n):
				t.Errorf("%d claims of %d rows, %v", len(got), n, err)
			case c.says != "" && (got != nil || err == nil || !strings.HasPrefix(err.Error(), c.says)):
				t.Errorf("Read = %v, want one with %q", err, c.says)
			}
		})
	}
}

func num(x float64) *float64 { return &x }

// TestCompleteRows: stretches that lie beside each other are read however many there
// are, and no more than mostComplete of one moment.
func TestCompleteRows(t *testing.T) {
	rows := func(n int, gapNs, lengthNs int64) string {
		var b strings.Builder
		b.WriteString("session,onset_s,claim\n")
		for i := range int64(n) {
			c := label.Claim{OnsetNs: i * gapNs, Source: label.Hand, Author: fmt.Sprint("jo", i), At: noon, Complete: true}
			if lengthNs > 0 {
				c.EndNs = c.OnsetNs + lengthNs
			}
			text, err := Text(c)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "monday,%.9f,\"%s\"\n", float64(c.OnsetNs)/1e9, strings.ReplaceAll(text, `"`, `""`))
		}
		return b.String()
	}
	for name, c := range map[string]struct {
		n               int
		gapNs, lengthNs int64 // no length is to the session's end
		fine            bool
	}{
		"beside each other":     {3000, 10_000_000, 9_000_000, true},
		"as many as may be":     {mostComplete, 0, 0, true},
		"one more":              {mostComplete + 1, 0, 0, false},
		"long ones, as many":    {3000, 10_000_000, mostComplete*10_000_000 - 1, true},
		"long ones, that touch": {3000, 10_000_000, mostComplete * 10_000_000, false},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(strings.NewReader(rows(c.n, c.gapNs, c.lengthNs)), "t.csv", options(t))
			const says = "t.csv:202:20: more than 200 labels say of one moment of session monday"
			switch {
			case c.fine && (err != nil || len(got) != c.n):
				t.Errorf("%d claims of %d rows, %v", len(got), c.n, err)
			case !c.fine && (err == nil || !strings.HasPrefix(err.Error(), says)):
				t.Errorf("Read = %v, want one with %q", err, says)
			}
		})
	}
}

func TestReadByHand(t *testing.T) {
	for name, c := range map[string]struct {
		text, session string
		want          []label.Claim
	}{
		"least": {"session,onset_s,face,height_m\nmonday,2.5,3,0.4\nmonday,1,,\n", "", []label.Claim{
			{Session: "monday", OnsetNs: 25e8, Source: label.Hand, Author: "jo", Face: 3, HeightM: num(0.4)},
			{Session: "monday", OnsetNs: 1e9, Source: label.Hand, Author: "jo"}}},
		"a session for all": {"onset_s,face\n1,2\n", "monday", []label.Claim{
			{Session: "monday", OnsetNs: 1e9, Source: label.Hand, Author: "jo", Face: 2}}},
		"all": {"session;onset_s;bearing_deg;height_m;band;kind;confidence;says;pair;note;labeller;mood\n" +
			"monday;2,5;-30;0,4;MID;Upward;0,9;strike;one;a note;ann;fine\nmonday;3;;;;;;no strike;;;bo;\n", "", []label.Claim{
			{Session: "monday", OnsetNs: 25e8, Source: label.Hand, Author: "ann", BearingDeg: num(330), HeightM: num(0.4), Band: "mid",
				Kind: "uppercut", Confidence: 0.9, Pair: "one", Note: "a note"},
			{Session: "monday", OnsetNs: 3e9, Source: label.Hand, Author: "bo", NotStrike: true}}},
	} {
		t.Run(name, func(t *testing.T) {
			o := options(t)
			o.Session = c.session
			got, err := Read(strings.NewReader(c.text), "t.csv", o)
			if diff := cmp.Diff(c.want, got); err != nil || diff != "" {
				t.Errorf("%v (-want +got):\n%s", err, diff)
			}
		})
	}
}

func TestReadRefuses(t *testing.T) {
	const head = "session,onset_s,face,bearing_deg,height_m,band,kind,confidence,says,pair,labeller,source\n"
	for name, c := range map[string]struct{ text, want string }{
		"empty":          {"", "no header"},
		"header alone":   {head, "t.csv: it has a header but no labels"},
		"lacks time":     {"session,face\nmonday,1\n", "t.csv:1:1: the header lacks onset_s"},
		"no session":     {head + ",1\n", "t.csv:2:1: it names no session"},
		"unknown":        {head + "tuesday,1\n", `t.csv:2:1: session "tuesday": unknown session`},
		"time":           {head + "monday,soon\n", `t.csv:2:8: onset_s "soon" is not a number`},
		"far":            {head + "monday,1e300\n", "t.csv:2:8: onset_s 1e+300 is no time in a session"},
		"before":         {head + "monday,-1\n", "t.csv:2:8: onset_s -1 is not in session monday, which is 60.000 s long"},
		"after":          {head + "monday,61\n", "t.csv:2:8: onset_s 61 is not in session monday"},
		"face":           {head + "monday,1,7\n", "t.csv:2:10: face 7 is not on rig garage-r1, which has faces 1 to 6"},
		"half a face":    {head + "monday,1,1.5\n", `t.csv:2:10: face "1.5" is not a whole number`},
		"bearing":        {head + "monday,1,,400\n", "t.csv:2:11: bearing_deg 400 is not between -360 and 360 degrees"},
		"height":         {head + "monday,1,,,40\n", "t.csv:2:12: height_m 40 is not on the bag, which is 1 m long"},
		"band":           {head + "monday,1,,,,belly\n", `t.csv:2:13: band "belly" is not on rig garage-r1`},
		"kind":           {head + "monday,1,,,,,kick\n", `t.csv:2:14: kind "kick" is unknown: use one of straight`},
		"confidence":     {head + "monday,1,,,,,,2\n", "t.csv:2:15: confidence 2 is not between 0 and 1"},
		"says":           {head + "monday,1,,,,,,,maybe\n", `t.csv:2:16: says "maybe" is unknown: use "strike" or "no strike"`},
		"place of none":  {head + "monday,1,2,,,,,,no strike\n", "t.csv:2:17: what is no strike has no place"},
		"pair":           {head + "monday,1,,,,,,,,three\n", `t.csv:2:17: pair "three" is unknown`},
		"source":         {head + "monday,1,,,,,,,,,,plan\n", `t.csv:2:19: a label of source "plan" needs its claim`},
		"two places":     {head + "monday,1,2,180\n", "t.csv:2:10: face 2 is not the one of bearing_deg 180, face 4"},
		"twice":          {head + "monday,1,2\nmonday,1.0,3\n", "t.csv:3:8: line 2 speaks of the same moment"},
		"later row":      {head + "monday,1,2\nmonday,2,9\n", "t.csv:3:10: face 9"},
		"not text":       {"session,onset_s,note\nmonday,1,\xff\n", "not valid UTF-8"},
		"claim":          {"session,onset_s,claim\nmonday,1,{}\n", "t.csv:2:10: not a claim: "},
		"claim of half":  {"session,onset_s,claim\nmonday,1,\"{\"\"onset_ns\"\":1\"\n", "t.csv:2:10: not a claim: unexpected EOF: take the cell from label list --all"},
		"claim and more": {"session,onset_s,claim\nmonday,1," + cell(claim()) + "\n", ""},
		"changed time":   {"session,onset_s,claim\nmonday,1.06," + cell(claim()) + "\n", `t.csv:2:8: onset_s "1.06" is not what the row's claim says`},
		"changed face":   {"session,onset_s,face,claim\nmonday,1,3," + cell(claim()) + "\n", `t.csv:2:10: face "3" is not what the row's claim says: correct one of the two, or empty the cell claim`},
		"emptied height": {"session,onset_s,height_m,claim\nmonday,1,," + cell(claim()) + "\n", `height_m "" is not what the row's claim says`},
		"changed note":   {"session,onset_s,note,claim\nmonday,1,y," + cell(claim()) + "\n", `t.csv:2:10: note "y" is not what`},
		"journal's own":  {"session,onset_s,claim\nmonday,1,\"{\"\"id\"\":\"\"x\"\"}\"\n", "it holds what only a journal may"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(strings.NewReader(c.text), "t.csv", options(t))
			switch {
			case c.want == "" && err != nil:
				t.Errorf("refused: %v", err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want) || got != nil):
				t.Errorf("%d claims, error %v, want none and %q", len(got), err, c.want)
			}
		})
	}
	o := options(t)
	o.Labeller = ""
	if _, err := Read(strings.NewReader("session,onset_s\nmonday,1\n"), "t.csv", o); err == nil || !strings.Contains(err.Error(), "--labeller") {
		t.Errorf("a row of nobody: error %v, want one that names --labeller", err)
	}
}

func claim() label.Claim {
	return label.Claim{OnsetNs: 1e9, Source: label.Timed, Author: "camera", At: noon, BearingDeg: num(12.345678), HeightM: num(0.1), Note: "x"}
}

// cell is a claim as a cell of a CSV.
func cell(c label.Claim) string {
	text, err := Text(c)
	if err != nil {
		panic(err)
	}
	return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
}

// Every claim that a journal takes comes back from its row as it was.
func TestClaimsComeBack(t *testing.T) {
	o := options(t)
	rapid.Check(t, func(t *rapid.T) {
		c := label.Claim{
			OnsetNs: rapid.Int64Range(-5e9, 90e9).Draw(t, "onset"), At: noon.Add(time.Duration(rapid.Int64Range(0, 1e15).Draw(t, "at"))),
			Source: rapid.SampledFrom([]string{label.Plan, label.Hand, label.Timed}).Draw(t, "source"),
			Author: rapid.String().Draw(t, "author"), Note: rapid.String().Draw(t, "note"),
			NotStrike: rapid.Bool().Draw(t, "not"), PlanOrder: rapid.IntRange(0, 9).Draw(t, "order"),
			Confidence: rapid.Float64Range(0, 1).Draw(t, "confidence"), BearingSDDeg: rapid.Float64Range(0, 9).Draw(t, "sd"),
		}
		if !c.NotStrike {
			c.Face, c.Band = rapid.IntRange(0, 6).Draw(t, "face"), rapid.SampledFrom([]string{"", "low", "high", "no such band"}).Draw(t, "band")
			c.Kind = rapid.SampledFrom([]string{"", "hook"}).Draw(t, "kind")
			if rapid.Bool().Draw(t, "exact") {
				c.BearingDeg, c.HeightM = num(rapid.Float64Range(-360, 720).Draw(t, "bearing")), num(rapid.Float64Range(0, 1).Draw(t, "height"))
			}
		}
		text, err := Text(c)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		w := csv.NewWriter(&b)
		w.Write([]string{"session", "onset_s", "source", "says", "labeller", "note", "claim"})
		w.Write([]string{"monday", fmt.Sprintf("%.4f", float64(c.OnsetNs)/1e9), c.Source, Says(c), c.Author, c.Note, text})
		w.Flush()
		got, err := Read(strings.NewReader(b.String()), "t.csv", o)
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		c.Session = "monday"
		if diff := cmp.Diff([]label.Claim{c}, got); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// Whatever the table holds, what is read can be kept in a journal.
// TestSessionsAreLookedForOnce: looking for one costs time, and a table may name
// wrong ones on every row.
func TestSessionsAreLookedForOnce(t *testing.T) {
	for name, c := range map[string]struct {
		row  string
		want int
	}{"the same": {"tuesday,1,%d\n", 1}, "others": {"t%d,1,\n", maxSessions}} {
		var text strings.Builder
		text.WriteString("session,onset_s,face\n")
		for i := range 2 * maxSessions {
			fmt.Fprintf(&text, c.row, i)
		}
		o := options(t)
		of, calls := o.Of, 0
		o.Of = func(name string) (Session, error) { calls++; return of(name) }
		claims, err := Read(strings.NewReader(text.String()), "t.csv", o)
		if err == nil || claims != nil || calls != c.want {
			t.Errorf("%s: %d sessions looked for, want %d; %d claims, error %v", name, calls, c.want, len(claims), err)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add("session,onset_s,face,height_m\nmonday,2.5,3,0.4\nmonday,3,,\n")
	f.Add("session;onset_s;bearing_deg;says;pair\nmonday;2,5;-30;strike;one\nmonday;3;;no strike;\n")
	f.Add("session,onset_s,height_m,note,claim\nmonday,1,0.1000,x," + cell(claim()) + "\n")
	f.Add("session,onset_s,claim\nmonday,1,\"{\"\"id\"\":\"\"x\"\"\"\n\xff")
	o := options(f)
	f.Fuzz(func(t *testing.T, text string) {
		claims, err := Read(strings.NewReader(text), "t.csv", o)
		if (err == nil) != (len(claims) > 0) {
			t.Fatalf("%d claims, error %v", len(claims), err)
		}
		for _, c := range claims {
			if c.At.IsZero() {
				c.At = noon
			}
			if err := c.Validate(); err != nil {
				t.Fatal(err)
			}
			if !c.AboutStrike() && !c.Complete {
				t.Fatalf("claim %+v is about nothing", c)
			}
		}
	})
}
