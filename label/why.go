package label

import (
	"fmt"
	"slices"
	"strings"
)

// How far apart two hands may place one strike and still agree: half of one of
// six faces, half of a usual band. Common practice, no source.
const (
	agreeDeg = 30.0
	agreeM   = 0.15
)

// denies tells whether a claim says that what was found was no strike.
func (c Claim) denies() bool { return c.NotStrike || c.Complete }

// Agrees tells whether two claims about one strike agree: both say that it was
// none, or both place it on the bag and nothing that both say of the place
// differs. Bearings agree within 30 degrees, heights within 0.15 m; where one
// of the two names no bearing the faces are compared, and where it names no
// height the bands. Kinds do not count.
func (c Claim) Agrees(o Claim) bool { return c.stance().agrees(o.stance()) }

// agreeing lists the other authors by hand who agree with a claim by hand, by
// name.
func agreeing(c Claim, claims []Claim) []string {
	var out []string
	for _, o := range claims {
		if c.Source == Hand && o.Source == Hand && o.Author != c.Author && c.Agrees(o) {
			out = append(out, o.Author)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Why says in words why the preferred claim stands before its rivals, "" where
// nothing is claimed.
func (l Label) Why() string {
	if l.Claim == nil {
		return ""
	}
	why := l.ground()
	var before []string // sources that give way
	for _, source := range []string{Hand, Plan} {
		if source != l.Claim.Source && slices.ContainsFunc(l.Rivals, func(c Claim) bool { return c.Source == source }) {
			before = append(before, source)
		}
	}
	if len(before) > 0 {
		why += ", before " + strings.Join(before, " and ")
	}
	if l.Strike < 0 {
		why += "; no strike was found here"
	}
	return why
}

// WhyNot says in words of each rival why it does not stand first.
func (l Label) WhyNot() []string {
	if l.Claim == nil {
		return nil
	}
	out := make([]string, len(l.Rivals))
	ground := l.ground()
	for i, rival := range l.Rivals {
		out[i] = "gives way to " + ground
		if rival.Source == Hand && l.Claim.Source == Hand && rival.Author != l.Claim.Author && rival.Agrees(*l.Claim) {
			out[i] = "one of the " + ground
		}
	}
	return out
}

// ground names what the preferred claim rests on.
func (l Label) ground() string {
	c := *l.Claim
	word := c.Source
	if c.Source == Timed {
		word = "timed truth"
	}
	if c.denies() {
		word += " that says no strike"
	}
	if c.Source != Hand {
		return word
	}
	if with := agreeing(c, l.Rivals); len(with) > 0 {
		word = "hands that agree"
		if c.denies() {
			word += " on no strike"
		}
		with = append(with, c.Author)
		slices.Sort(with)
		return fmt.Sprintf("%s: %s", word, names(with))
	}
	var against []string
	tie := false
	for _, r := range l.Rivals {
		if r.Source == Hand && r.Author != c.Author {
			against = append(against, r.Author)
			tie = tie || r.Complete == c.Complete && r.At.Equal(c.At)
		}
	}
	slices.Sort(against)
	switch {
	case len(against) == 0:
		return fmt.Sprintf("single %s: %s", word, names([]string{c.Author}))
	case tie:
		return fmt.Sprintf("first by name of hands that differ: %s; against: %s", names([]string{c.Author}), names(slices.Compact(against)))
	}
	return fmt.Sprintf("latest of hands that differ: %s; against: %s", names([]string{c.Author}), names(slices.Compact(against)))
}

// mostNamed is how many hands are named: thousands may label one strike, and each
// of them is told of the others.
const mostNamed = 10

// names joins names of authors, as many as are read.
func names(authors []string) string {
	out := slices.Clone(authors[:min(len(authors), mostNamed)])
	for i, name := range out {
		if name == "" {
			out[i] = "unnamed"
		}
	}
	text := strings.Join(out, ", ")
	if more := len(authors) - len(out); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}
