// Package video reads what a person wrote down while watching a video of a
// session: a time and some words a strike, such as "face 3 high hook". It turns
// the words into claims by hand, and says which words it did not understand.
//
// The video's clock may start anywhere and drift. Package truth finds how it
// lies against the log's, as it does for any timed truth; a claim about a found
// strike bears the strike's own onset, since the log knows the instant better
// than an eye on frames.
package video

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/table"
	"strikerose/label/truth"
)

// maxText is the longest text of a row, in bytes.
const maxText = 500

// maxTimeS bounds times, on any video's clock: ten days.
const maxTimeS = 10 * 24 * 3600

// unsureConfidence is that of a text that marks itself as unsure. A convention,
// no measurement.
const unsureConfidence = 0.5

// Entry is one row.
type Entry struct {
	Line  int
	TimeS float64 // on the video's clock
	Text  string
	Said  Said
}

// Reading is all that was read.
type Reading struct {
	Entries []Entry // by rising time: those that say something of a strike
	Outside []Entry // of whose text no word was understood
	Unknown []Unknown
}

// Unknown is a word that was not understood.
type Unknown struct {
	Word  string `json:"word"`  // the word as written
	Count int    `json:"count"` // how often it stands there, at least 1
	Line  int    `json:"line"`  // line of the notes in which it stands first, from 1, at least 1
}

// Read reads CSV with the columns time and text; others are left alone. A time
// is seconds, m:ss or h:mm:ss, with decimals after the seconds if there are
// some. A row without text says that there was a strike and nothing more. All
// faults together are the error, each with line and column; see Understand for
// what is one in a text.
func Read(r io.Reader, name string, rg *rig.Rig) (Reading, error) {
	t, err := table.Read(r, name, "time", "text")
	if err != nil {
		return Reading{}, fmt.Errorf("video: %w", err)
	}
	if err := t.OneSession(); err != nil {
		return Reading{}, fmt.Errorf("video: %w", err)
	}
	var out Reading
	unknown := map[string]int{} // its place
	time, text := t.Column("time"), t.Column("text")
	for _, row := range t.Rows {
		e := Entry{Line: row.Line(), Text: row.Cell(text)}
		var ok bool
		if e.TimeS, ok = seconds(row.Cell(time)); !ok {
			t.Fault(row, time, "time %q is neither seconds nor h:mm:ss", row.Cell(time))
		}
		if len(e.Text) > maxText {
			t.Fault(row, text, "a text of %d bytes: what is said of one strike fits in %d", len(e.Text), maxText)
			continue
		}
		if e.Said, err = Understand(e.Text, rg); err != nil {
			t.Fault(row, text, "%q %v", e.Text, err)
		}
		for _, word := range e.Said.Unknown {
			i, known := unknown[word]
			if !known {
				i = len(out.Unknown)
				unknown[word] = i
				out.Unknown = append(out.Unknown, Unknown{Word: word, Line: e.Line})
			}
			out.Unknown[i].Count++
		}
		if e.Said.Nothing() {
			out.Outside = append(out.Outside, e)
		} else {
			out.Entries = append(out.Entries, e)
		}
	}
	switch {
	case t.Err() != nil:
		return Reading{}, fmt.Errorf("video: %w", t.Err())
	case len(out.Entries) == 0 && len(out.Outside) > 0:
		return Reading{}, fmt.Errorf(`video: %s: no word of it is understood: write such as "face 3 high hook"`, name)
	case len(out.Entries) == 0:
		return Reading{}, fmt.Errorf("video: %s: it has a header but no strikes", name)
	}
	slices.SortStableFunc(out.Entries, func(a, b Entry) int { return cmp.Compare(a.TimeS, b.TimeS) })
	return out, nil
}

// seconds reads a time. A decimal comma is understood: a time has no other use
// for one.
func seconds(text string) (float64, bool) {
	parts := strings.Split(strings.Replace(text, ",", ".", 1), ":")
	if len(parts) > 3 {
		return 0, false
	}
	total := 0.0
	for i, part := range parts {
		if part == "" || strings.Trim(part, "0123456789.") != "" || i < len(parts)-1 && strings.Contains(part, ".") {
			return 0, false
		}
		x, err := strconv.ParseFloat(part, 64)
		if err != nil || i > 0 && x >= 60 {
			return 0, false
		}
		total = 60*total + x
	}
	return total, total <= maxTimeS && !math.IsNaN(total)
}

// Place finds where the entries lie on the session's clock: see
// truth.MatchWithin.
func (r Reading) Place(ctx context.Context, onsetsNs []int64, epochs []truth.Epoch, toleranceS float64) (truth.Placement, error) {
	times := make([]truth.Entry, len(r.Entries))
	for i, e := range r.Entries {
		times[i].TimeS = e.TimeS
	}
	return truth.MatchWithin(ctx, times, onsetsNs, epochs, toleranceS)
}

// Claims writes the placed entries as claims by hand, with the text as their
// note; one that matched a strike bears its onset. complete says as well that
// nothing else in the placed stretches was a strike. Session, author and time
// are filled in by label.Held.Amend.
func (r Reading) Claims(p truth.Placement, onsetsNs []int64, complete bool) []label.Claim {
	onset := slices.Clone(p.OnsetNs)
	for _, pair := range p.Pairs {
		onset[pair.Entry] = onsetsNs[pair.Onset]
	}
	var out []label.Claim
	for i, e := range r.Entries {
		if p.Where[i] != truth.InEpoch {
			continue
		}
		c := label.Claim{OnsetNs: onset[i], Source: label.Hand, Face: e.Said.Face, BearingDeg: e.Said.BearingDeg, HeightM: e.Said.HeightM,
			Band: e.Said.Band, Kind: e.Said.Kind, NotStrike: e.Said.NoStrike, Confidence: 1, Note: strings.ToValidUTF8(e.Text, "")}
		if e.Said.Unsure {
			c.Confidence = unsureConfidence
		}
		out = append(out, c)
	}
	if complete {
		for _, f := range p.Fits {
			if f.Placed {
				out = append(out, label.Claim{OnsetNs: f.Epoch.StartNs, EndNs: f.Epoch.EndNs, Source: label.Hand, Complete: true})
			}
		}
	}
	return out
}

// Count says of how many entries something was understood.
type Count struct {
	What  string `json:"what"`  // what the notes say, one of face, bearing, band, height, kind, hand, "no strike" or unsure
	Count int    `json:"count"` // in how many rows, at least 0
}

// Counts counts what the entries say.
func (r Reading) Counts() []Count {
	out := []Count{{What: "face"}, {What: "bearing"}, {What: "band"}, {What: "height"}, {What: "kind"}, {What: "hand"}, {What: "no strike"}, {What: "unsure"}}
	for _, e := range r.Entries {
		for i, said := range []bool{e.Said.Face > 0, e.Said.BearingDeg != nil, e.Said.Band != "", e.Said.HeightM != nil, e.Said.Kind != "",
			e.Said.Hand != "", e.Said.NoStrike, e.Said.Unsure} {
			if said {
				out[i].Count++
			}
		}
	}
	return out
}
