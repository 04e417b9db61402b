package label

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// withIDs returns claims as a journal keeps them.
func withIDs(claims ...Claim) []Claim {
	out := make([]Claim, len(claims))
	for i, c := range claims {
		c.ID = c.ContentID()
		out[i] = c
	}
	return out
}

func lines(t testing.TB, claims ...Claim) string {
	t.Helper()
	var text strings.Builder
	for _, c := range claims {
		data, err := encode(c)
		if err != nil {
			t.Fatal(err)
		}
		text.Write(data)
	}
	return text.String()
}

func TestJournalRoundTrip(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		j := OpenJournal(filepath.Join(dir, "journal", strings.Repeat("x", n%7+1), "s.jsonl"))
		defer os.Remove(j.path)
		var want []Claim
		seen := make(map[string]bool)
		for _, batch := range rapid.SliceOfN(rapid.SliceOfN(rapid.Custom(drawClaim), 0, 5), 0, 4).Draw(t, "batches") {
			if err := j.Append(context.Background(), batch...); err != nil {
				t.Fatal(err)
			}
			for _, c := range withIDs(batch...) {
				if !seen[c.ID] {
					want = append(want, c)
				}
				seen[c.ID] = true
			}
		}
		log, err := j.Read(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, log.Claims); diff != "" || log.Err() != nil || log.Torn != nil {
			t.Fatalf("read back (-want +got):\n%s\ndamage: %v, torn: %v", diff, log.Err(), log.Torn)
		}
	})
}

func TestMissingJournalIsEmpty(t *testing.T) {
	log, err := OpenJournal(filepath.Join(t.TempDir(), "s.jsonl")).Read(t.Context())
	if err != nil || len(log.Claims) != 0 {
		t.Errorf("Read = %v, %v, want nothing", log, err)
	}
}

func TestTornLineIsReportedAndClosed(t *testing.T) {
	a := Claim{Session: "s", OnsetNs: 1, Source: Hand, At: noon, Face: 1}
	b := Claim{Session: "s", OnsetNs: 2, Source: Hand, At: noon, Face: 2}
	whole := lines(t, a)
	second := lines(t, b)
	for cut := 1; cut < len(second); cut++ {
		path := filepath.Join(t.TempDir(), "s.jsonl")
		if err := os.WriteFile(path, []byte(whole+second[:cut]), 0o644); err != nil {
			t.Fatal(err)
		}
		j := OpenJournal(path)
		log, err := j.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		want := withIDs(a)
		if cut == len(second)-1 { // only the newline is missing: the line counts
			want = withIDs(a, b)
		} else if len(log.Torn) != 1 || log.Torn[0].Line != 2 || log.Torn[0].Byte != int64(len(whole)) {
			t.Fatalf("cut at %d: torn %v, want line 2, byte %d", cut, log.Torn, len(whole))
		}
		if diff := cmp.Diff(want, log.Claims); diff != "" || log.Err() != nil {
			t.Fatalf("cut at %d (-want +got):\n%s\ndamage: %v", cut, diff, log.Err())
		}
		// The next append closes it, and nothing is lost or called damage.
		c := Claim{Session: "s", OnsetNs: 3, Source: Hand, At: noon, Face: 3}
		if err := j.Append(t.Context(), c); err != nil {
			t.Fatal(err)
		}
		log, err = j.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(append(want, withIDs(c)...), log.Claims); diff != "" || log.Err() != nil {
			t.Fatalf("cut at %d, after an append (-want +got):\n%s\ndamage: %v", cut, diff, log.Err())
		}
	}
}

func TestDamageIsReportedWithItsLine(t *testing.T) {
	a := Claim{Session: "s", OnsetNs: 1, Source: Hand, At: noon, Face: 1}
	b := Claim{Session: "s", OnsetNs: 2, Source: Hand, At: noon, Face: 2}
	good, last := lines(t, a), lines(t, b)
	edit := func(from, to string) string {
		text := strings.Replace(good, from, to, 1)
		if text == good {
			t.Fatalf("%q is not in %s", from, good)
		}
		return text
	}
	for name, c := range map[string]struct{ line, why string }{
		"cut in the middle": {good[:20] + "\n", "not a claim"},
		"noise":             {"\x00\x01\x02\n", "not a claim"},
		"edited":            {edit(`"face":1`, `"face":5`), "does not fit the content"},
		"newer":             {edit(`"v":1`, `"v":2`), "line format 2 is newer than 1"},
		"unknown field":     {edit(`"v":1`, `"v":1,"mood":"good"`), "unknown field"},
		"no version":        {edit(`"v":1,`, ``), "line format 0 is unknown"},
		"number":            {"17\n", "not a claim"},
		"unknown close":     {`{"v":1,"closes":"door"}` + "\n", "closes"},
		"endless":           {strings.Repeat("x", maxLine+100) + "\n", "the most is"},
	} {
		t.Run(name, func(t *testing.T) {
			log, err := Read(strings.NewReader(good+c.line+last), "s.jsonl")
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(withIDs(a, b), log.Claims); diff != "" {
				t.Errorf("claims (-want +got):\n%s", diff)
			}
			if len(log.Damaged) != 1 || log.Damaged[0].Line != 2 || log.Damaged[0].Byte != int64(len(good)) || !strings.Contains(log.Damaged[0].Why, c.why) {
				t.Fatalf("damage %+v, want one of line 2 at byte %d with %q", log.Damaged, len(good), c.why)
			}
			if err := log.Err(); err == nil || !strings.HasPrefix(err.Error(), "s.jsonl:2: byte ") {
				t.Errorf("Err = %v, want the place first", err)
			}
		})
	}
}

func TestAppendRefusesBeforeWriting(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.jsonl")
	good := Claim{Session: "s", Source: Hand, At: noon}
	for name, bad := range map[string]Claim{
		"invalid":  {Session: "s", Source: "guess", At: noon},
		"wrong id": {ID: "x", Session: "s", Source: Hand, At: noon},
		"too long": {Session: "s", Source: Hand, At: noon, Note: strings.Repeat("x", maxLine)},
	} {
		if err := OpenJournal(path).Append(t.Context(), good, bad); err == nil {
			t.Errorf("%s: Append took it", name)
		}
	}
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Errorf("a refused append left a file: %v", err)
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if err := OpenJournal(path).Append(cancelled, good); err == nil {
		t.Error("a cancelled append succeeded")
	}
}

// TestFormat pins the bytes of a line, since journals outlive releases.
func TestFormat(t *testing.T) {
	got := lines(t, Claim{
		Session: "monday", OnsetNs: 12_345_678, Source: Plan, Author: "jo", At: time.Date(2026, 3, 1, 13, 0, 0, 0, time.FixedZone("CET", 3600)),
		Face: 2, Band: "mid", Kind: "hook", Confidence: 0.97, BearingSDDeg: 8, HeightSDM: 0.04, PlanOrder: 5, Pair: "one",
	})
	want := `{"v":1,"id":"81588e13221aeb76529ab227798f34af","session":"monday","onset_ns":12345678,"source":"plan","author":"jo","at":"2026-03-01T12:00:00Z",` +
		`"face":2,"band":"mid","kind":"hook","confidence":0.97,"bearing_sd_deg":8,"height_sd_m":0.04,"plan_order":5,"pair":"one"}` + "\n"
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("line (-want +got):\n%s", diff)
	}
}

func FuzzRead(f *testing.F) {
	a := Claim{Session: "s", OnsetNs: 1, Source: Hand, At: noon, Face: 1, Note: "é\u2028"}
	text := lines(f, a, Claim{Session: "s", OnsetNs: 2, Source: Timed, At: noon, BearingDeg: number(-0.0), HeightM: number(0.3)})
	f.Add([]byte(text))
	f.Add([]byte(text[:len(text)/2]))
	f.Add([]byte(text[:30] + "\n" + closing + "\n" + text))
	f.Add([]byte("\n\r\n{}\n{\"v\":9}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		log, err := Read(bytes.NewReader(data), "x")
		if err != nil {
			t.Fatalf("Read of memory failed: %v", err)
		}
		// What counts can be written again, and reads back the same.
		again, err := Read(strings.NewReader(lines(t, log.Claims...)), "y")
		if err != nil {
			t.Fatal(err)
		}
		got, _ := json.Marshal(again.Claims)
		want, _ := json.Marshal(log.Claims)
		if !bytes.Equal(got, want) || len(again.Damaged) > 0 || len(again.Torn) > 0 {
			t.Fatalf("written again: %s\nwant %s", got, want)
		}
	})
}
