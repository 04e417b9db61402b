package plan

import (
	"bytes"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
)

func testSheet(t *testing.T) string {
	t.Helper()
	d := Design{Faces: 6, Bands: []string{"low", "mid", "high"}, Kinds: []string{"straight"}, PerCell: 1, Pairs: 4, Seed: 1}
	var b bytes.Buffer
	err := WriteSheet(&b, Sheet{Title: "Plan for <garage-r1>", Rounds: Rounds(mustOrder(t, d), 10), RestS: 60, Cautions: "Wraps & gloves on."})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestSheet(t *testing.T) {
	page := testSheet(t)
	datasettest.Golden(t, "sheet.html", []byte(page))
	for want, n := range map[string]int{
		"<section>": 2, "Rest 60 seconds": 1, "<li": 18, `class="one"`: 4, `class="two"`: 4, "Wraps &amp; gloves on.": 1,
		"Plan for &lt;garage-r1&gt;": 2, "Round 2 of 2": 1, "break-before: page": 1,
		// Nothing to run and nothing to fetch.
		"<script": 0, "http": 0, "<link": 0, "<img": 0, "@import": 0, "url(": 0,
	} {
		if got := strings.Count(page, want); got != n {
			t.Errorf("the sheet holds %q %d times, want %d", want, got, n)
		}
	}
}

func TestSheetRefusesLongRounds(t *testing.T) {
	entries := make([]Entry, LongestRound+2)
	err := WriteSheet(&bytes.Buffer{}, Sheet{Rounds: [][]Entry{entries}})
	if err == nil || !strings.Contains(err.Error(), "shorter rounds") {
		t.Errorf("a round of %d: %v", len(entries), err)
	}
}
