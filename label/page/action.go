package page

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/label"
)

// Limits of what a person may write.
const (
	maxName = 80   // bytes of a labeller's name
	maxNote = 2000 // bytes of a note
	maxSays = 4    // claims of one action
)

// say is one claim as the page sends it. What is not known is left out.
type say struct {
	OnsetNs    int64    `json:"onset_ns"`
	Face       int      `json:"face,omitempty"`
	BearingDeg *float64 `json:"bearing_deg,omitempty"`
	HeightM    *float64 `json:"height_m,omitempty"`
	Band       string   `json:"band,omitempty"`
	Kind       string   `json:"kind,omitempty"`
	Pair       string   `json:"pair,omitempty"`
	NotStrike  bool     `json:"not_strike,omitempty"`
	Note       string   `json:"note,omitempty"`
}

// acted is an action as the page sends it: something to say, or an earlier
// action to undo.
type acted struct {
	Session  string `json:"session"`
	Labeller string `json:"labeller"`
	Action   string `json:"action"`
	Says     []say  `json:"says,omitempty"`
	Undoes   string `json:"undoes,omitempty"`
}

// action takes an action into the journal. It answers when it is on disk.
func (p *Page) action(r *http.Request) (any, error) {
	var a acted
	if err := decode(r, &a); err != nil {
		return nil, err
	}
	if err := a.check(); err != nil {
		return nil, err
	}
	s, err := p.o.Corpus.Session(a.Session)
	if err != nil {
		return nil, err
	}
	rg, err := p.o.Corpus.Rig(s.Rig)
	if err != nil {
		return nil, err
	}
	var claims []label.Claim
	for _, one := range a.Says {
		c, err := one.claim(s, rg)
		if err != nil {
			return nil, err
		}
		claims = append(claims, c)
	}
	o := label.Origin{Session: s.Name, Source: label.Hand, Author: a.Labeller, At: p.o.Now().UTC()}
	err = p.o.Corpus.Append(r.Context(), s.Name, func(old []label.Claim) ([]label.Claim, error) {
		if a.Undoes != "" {
			return label.Undo(old, o, a.Action, a.Undoes)
		}
		return label.Take(old, o, a.Action, claims)
	})
	if err != nil {
		return nil, err
	}
	return p.view(r.Context(), s, rg, a.Labeller)
}

func (a acted) check() error {
	if err := checkName(a.Labeller); err != nil {
		return err
	}
	switch {
	case a.Action == "" || len(a.Action) > 64 || len(a.Undoes) > 64:
		return badf("an action needs an id of at most 64 characters")
	case (a.Undoes == "") == (len(a.Says) == 0):
		return badf("an action either says something or undoes an earlier one")
	case len(a.Says) > maxSays:
		return badf("an action of %d claims: the most is %d", len(a.Says), maxSays)
	}
	return nil
}

// checkName tells whether a labeller may bear a name.
func checkName(name string) error {
	switch {
	case name == "" || strings.TrimSpace(name) != name:
		return badf("a labeller needs a name, without space at either end")
	case len(name) > maxName || !utf8.ValidString(name) || strings.ContainsFunc(name, func(c rune) bool { return !unicode.IsPrint(c) }):
		return badf("the labeller's name is longer than %d bytes or does not print", maxName)
	}
	return nil
}

// claim makes a claim of what the page says. Face and band follow from bearing
// and height where those are given; without them the claim stands for the
// middle of face and band, with the scatter of an aimed strike.
func (y say) claim(s dataset.Session, rg *rig.Rig) (label.Claim, error) {
	c := label.Claim{OnsetNs: y.OnsetNs, Pair: y.Pair, NotStrike: y.NotStrike, Note: y.Note, Confidence: 1}
	if last := int64(s.DurationS * 1e9); y.OnsetNs < 0 || y.OnsetNs > last+1 {
		return c, badf("onset %.3f s is outside the session, which ends at %.3f s", float64(y.OnsetNs)/1e9, s.DurationS)
	}
	if len(y.Note) > maxNote || !utf8.ValidString(y.Note) {
		return c, badf("the note is longer than %d bytes", maxNote)
	}
	if y.NotStrike {
		return c, nil
	}
	if y.Pair != "" && y.Pair != "one" && y.Pair != "two" {
		return c, badf("pair %q: want one or two", y.Pair)
	}
	if y.Kind != "" {
		kind, ok := label.ParseKind(y.Kind)
		if !ok {
			return c, badf("kind %q: want one of %s", y.Kind, strings.Join(label.Kinds(), ", "))
		}
		c.Kind = kind
	}
	if err := y.place(&c, rg); err != nil {
		return c, err
	}
	if c.Face == 0 && c.Band == "" {
		return c, badf("say where it landed: a face or a height")
	}
	return c, nil
}

func (y say) place(c *label.Claim, rg *rig.Rig) error {
	switch {
	case y.BearingDeg != nil:
		if math.IsInf(*y.BearingDeg, 0) || math.IsNaN(*y.BearingDeg) {
			return badf("the bearing is not a number")
		}
		deg := bearing.Wrap360(*y.BearingDeg)
		c.BearingDeg, c.Face = &deg, rg.FaceOf(deg)
	case y.Face < 0 || y.Face > rg.Faces:
		return badf("face %d is not on rig %s: its faces are 1 to %d", y.Face, rg.Key(), rg.Faces)
	case y.Face > 0:
		c.Face, c.BearingSDDeg = y.Face, label.AimSDDeg
	}
	switch {
	case y.HeightM != nil:
		if h := *y.HeightM; !(h >= 0 && h <= rg.Bag.LengthM) {
			return badf("height %g m is not on the bag, which is %g m long", h, rg.Bag.LengthM)
		}
		c.HeightM, c.Band = y.HeightM, rg.BandOf(*y.HeightM)
	case y.Band != "":
		if !slices.ContainsFunc(rg.Bands, func(b rig.Band) bool { return b.Name == y.Band }) {
			return badf("band %q is not on rig %s", y.Band, rg.Key())
		}
		c.Band, c.HeightSDM = y.Band, label.AimSDM
	}
	return nil
}

// sessionOf returns the session that a request names, and its rig.
func (p *Page) sessionOf(r *http.Request) (dataset.Session, *rig.Rig, error) {
	name := r.URL.Query().Get("session")
	if name == "" {
		return dataset.Session{}, nil, badf("the request names no session")
	}
	s, err := p.o.Corpus.Session(name)
	if err != nil {
		return s, nil, fmt.Errorf("session %q: %w", name, err)
	}
	rg, err := p.o.Corpus.Rig(s.Rig)
	return s, rg, err
}
