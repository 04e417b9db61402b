package plan

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed ordersheet.gohtml
var sheetTemplate string

// LongestRound is how many strikes a page of the sheet has room for.
const LongestRound = 60

// Sheet is a plan to be called out.
type Sheet struct {
	Title    string
	Rounds   [][]Entry // none longer than LongestRound + 1
	RestS    int       // between rounds
	Cautions string    // printed before the first strike
}

// sheetRound is one page.
type sheetRound struct {
	Number, Of, From, To int
	Calls                []sheetCall
	RowMM, TextMM        float64 // so that two columns fill a page
	RestS                int     // after it; 0 after the last
}

// sheetCall is what is called out at once.
type sheetCall struct {
	Order      int
	Face, More string
	Pair       bool // starts a double hit
	Two        bool
}

// WriteSheet writes a call sheet as one HTML page without scripts and without
// anything to fetch, printed one round a page in letters to be read from
// where the caller stands.
func WriteSheet(w io.Writer, s Sheet) error {
	var rounds []sheetRound
	for i, entries := range s.Rounds {
		if len(entries) > LongestRound+1 {
			return fmt.Errorf("plan: round %d has %d strikes, a page of the sheet room for %d: plan shorter rounds", i+1, len(entries), LongestRound)
		}
		r := sheetRound{Number: i + 1, Of: len(s.Rounds), From: entries[0].Order, To: entries[len(entries)-1].Order, RestS: s.RestS}
		if r.Number == r.Of {
			r.RestS = 0
		}
		const columnMM = 215 // of A4 and Letter, below the heading
		r.RowMM = min(columnMM/float64((len(entries)+1)/2), 16)
		r.TextMM = 0.62 * r.RowMM
		for _, e := range entries {
			r.Calls = append(r.Calls, sheetCall{Order: e.Order, Face: fmt.Sprint(e.Face), More: e.Band + " " + e.Kind, Pair: e.Pair == "one", Two: e.Pair == "two"})
		}
		rounds = append(rounds, r)
	}
	t, err := template.New("sheet").Parse(sheetTemplate)
	if err != nil {
		return fmt.Errorf("plan: sheet template: %w", err)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, struct {
		Sheet
		Pages []sheetRound
	}{s, rounds}); err != nil {
		return fmt.Errorf("plan: sheet: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}
