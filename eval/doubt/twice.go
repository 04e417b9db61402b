package doubt

import (
	"context"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/shell"
	"strikerose/eval"
	"strikerose/label"
)

// sureScore is the score of what is plain to see.
const sureScore = 0.99

// labelledTwice finds claims of one source and author that stand so near to
// each other that they can only be about one strike.
func labelledTwice(src eval.Source, sessions []dataset.Session, truth string) ([]Doubt, error) {
	var out []Doubt
	for _, s := range sessions {
		claims, err := src.Claims(s.Name)
		if err != nil {
			return nil, fmt.Errorf("session %s: %w", s.Name, err)
		}
		last := map[[2]string]label.Claim{}
		for _, c := range label.Standing(claims) {
			if !c.AboutStrike() || c.NotStrike || truth != label.Best && c.Source != truth {
				continue
			}
			who := [2]string{c.Source, c.Author}
			before, ok := last[who]
			last[who] = c
			if !ok || c.OnsetNs-before.OnsetNs > label.MatchNs() {
				continue
			}
			out = append(out, Doubt{
				Session: s.Name, Kind: Twice, Score: sureScore, OnsetNs: before.OnsetNs, EndNs: c.OnsetNs, Labels: 1, Sense: 1,
				Label: noPlace(), Predicted: noPlace(),
				Reason: fmt.Sprintf("two labels of %s stand %.0f ms apart: they are of one strike", c.Source, float64(c.OnsetNs-before.OnsetNs)/1e6),
				Mend:   fmt.Sprintf("take one back: strikerose label serve (session %s)", s.Name),
			})
		}
	}
	return out, nil
}

// fingerprint is how many readings from a strike's strongest one on are
// compared between sessions, and where it is looked for.
const (
	fingerprint = 32
	strongestNs = 25_000_000
)

// sameSamples finds sessions that hold the same readings at labelled strikes:
// one recording, imported twice, would be on both sides of a split. A session
// is told once, with the earlier one that it shares most strikes with.
func sameSamples(ctx context.Context, src eval.Source, d *eval.Data) ([]Doubt, error) {
	type place struct {
		session string
		c       eval.Case
	}
	seen := map[uint64]place{}
	var out []Doubt
	for from := 0; from < len(d.Cases); {
		to := from
		for to < len(d.Cases) && d.Cases[to].Session == d.Cases[from].Session {
			to++
		}
		of := d.Cases[from:to]
		from = to
		signal, err := src.Signal(ctx, of[0].Session)
		if err != nil {
			return nil, fmt.Errorf("session %s: %w", of[0].Session, err)
		}
		shared := map[string][]eval.Case{}
		for _, c := range of {
			key, ok := readings(signal, c.Strike.OnsetNs)
			if !ok {
				continue
			}
			if p, there := seen[key]; !there {
				seen[key] = place{c.Session, c}
			} else if p.session != c.Session {
				shared[p.session] = append(shared[p.session], c)
			}
		}
		other := ""
		for name, cases := range shared {
			if other == "" || len(cases) > len(shared[other]) || len(cases) == len(shared[other]) && name < other {
				other = name
			}
		}
		if other == "" {
			continue
		}
		cases := shared[other]
		first, last := cases[0].Strike, cases[len(cases)-1].Strike
		out = append(out, Doubt{
			Session: of[0].Session, Kind: SameSamples, Score: sureScore, Labels: len(cases), Sense: 1,
			OnsetNs: first.OnsetNs, EndNs: last.OnsetNs, Number: first.Number, EndNumber: last.Number,
			Label: noPlace(), Predicted: noPlace(),
			Reason: fmt.Sprintf("%d of its labelled strikes are, sample by sample, those of session %s", len(cases), other),
			Mend:   "keep one of the two: " + shell.Line("strikerose", "session", "drop", of[0].Session),
		})
	}
	return out, nil
}

// readings hashes the raw readings that follow the strongest one of a strike.
func readings(s *dataset.Signal, onsetNs int64) (key uint64, ok bool) {
	from, _ := slices.BinarySearch(s.TNs, onsetNs)
	strongest, most := from, -1.0
	for i := from; i < s.Len() && s.TNs[i] <= onsetNs+strongestNs; i++ {
		x := s.At(i).A
		if size := x[0]*x[0] + x[1]*x[1] + x[2]*x[2]; size > most {
			strongest, most = i, size
		}
	}
	if strongest+fingerprint > s.Len() {
		return 0, false
	}
	h := fnv.New64a()
	var word [4]byte
	for i := strongest; i < strongest+fingerprint; i++ {
		for k := range 3 {
			binary.LittleEndian.PutUint32(word[:], math.Float32bits(s.A[k][i]))
			h.Write(word[:])
		}
	}
	return h.Sum64(), true
}
