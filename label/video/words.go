package video

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Said is what a text says of one strike. What it does not say is left empty.
type Said struct {
	Face       int
	BearingDeg *float64 // in [0, 360)
	HeightM    *float64
	Band, Kind string
	NoStrike   bool
	Unsure     bool     // marked by a word such as maybe, or a question mark
	Hand       string   // left, right, lead or rear
	Unknown    []string // words that say nothing here, as written
	understood int      // words, those that only join others among them
}

// Nothing tells whether no word was understood of a text that has some.
func (s Said) Nothing() bool { return s.understood == 0 && len(s.Unknown) > 0 }

// kinds are the words for each kind of strike.
func kinds(word string) string {
	switch word {
	case "straight", "straights", "jab", "cross", "direct":
		return "straight"
	case "hook", "hooks":
		return "hook"
	case "uppercut", "uppercuts", "upper", "upward":
		return "uppercut"
	case "tap", "taps", "light", "lightly":
		return "tap"
	}
	return ""
}

// joining words say nothing by themselves.
func joining(word string) bool {
	return slices.Contains([]string{"a", "an", "the", "to", "on", "onto", "at", "with", "and", "then", "of", "in", "into", "hand", "hit",
		"hits", "strike", "strikes", "punch", "height", "band", "kind"}, word)
}

// Understand reads what a text says of a strike on a rig, in any case and
// order: a face (face 3, f3, front), a bearing (bearing 120, 120 deg), a height
// (0.62 m, 62 cm), a band by its name, a kind, a hand, "no strike" or "shove",
// and "maybe" or a question mark. A text that says two things of one sort, or
// something that the rig does not have, is an error.
func Understand(text string, rg *rig.Rig) (Said, error) {
	in := parser{rig: rg, words: words(text, rg)}
	for in.at < len(in.words) {
		before := in.at
		if in.word() {
			in.said.understood++
		} else {
			in.said.Unknown = append(in.said.Unknown, in.words[before])
			in.at = before + 1
		}
	}
	if in.said.NoStrike && (in.said.Face > 0 || in.said.Kind != "" || in.said.Band != "" || in.said.BearingDeg != nil || in.said.HeightM != nil) {
		in.said.Face, in.said.Kind, in.said.Band, in.said.BearingDeg, in.said.HeightM = 0, "", "", nil, nil // where there was no strike
	}
	return in.said, in.err
}

// parser is at a place in the words of a text.
type parser struct {
	rig   *rig.Rig
	words []string
	at    int
	said  Said
	err   error // the first
}

func (p *parser) fault(format string, args ...any) {
	if p.err == nil {
		p.err = fmt.Errorf(format, args...)
	}
}

// next takes a word off, "" at the end.
func (p *parser) next() string {
	if p.at >= len(p.words) {
		return ""
	}
	p.at++
	return p.words[p.at-1]
}

// word reads one word with what belongs to it, and tells whether it was
// understood.
func (p *parser) word() bool {
	word := p.next()
	if x, ok := number(word); ok {
		return p.measured(x)
	}
	if band := p.band(word); band != "" {
		p.text("band", &p.said.Band, band)
		return true
	}
	if kind := kinds(word); kind != "" {
		p.text("kind", &p.said.Kind, kind)
		return true
	}
	switch word {
	case "face", "f", "#":
		if word != "#" && p.peek() == "#" {
			p.next()
		}
		x, ok := number(p.next())
		if !ok {
			return false
		}
		p.face(x)
	case "front":
		p.face(1)
	case "bearing":
		x, ok := number(p.peek())
		if !ok { // "bearing" by itself joins other words
			return true
		}
		if p.next(); isUnit(p.peek()) {
			return p.measured(x)
		}
		p.bearing(x)
	case "no":
		if following := p.next(); following != "strike" && following != "hit" && following != "punch" {
			return false
		}
		p.said.NoStrike = true
	case "shove", "shoved", "push", "pushed", "miss", "missed":
		p.said.NoStrike = true
	case "maybe", "perhaps", "probably", "unsure", "?":
		p.said.Unsure = true
	case "left", "right", "lead", "rear":
		p.text("hand", &p.said.Hand, word)
	default:
		return joining(word)
	}
	return true
}

func (p *parser) peek() string {
	if p.at >= len(p.words) {
		return ""
	}
	return p.words[p.at]
}

func isUnit(word string) bool {
	return slices.Contains([]string{"deg", "degree", "degrees", "°", "m", "cm"}, word)
}

// measured reads the unit of a number.
func (p *parser) measured(x float64) bool {
	if !isUnit(p.peek()) {
		return false
	}
	switch p.next() {
	case "m":
		p.height(x)
	case "cm":
		p.height(x / 100)
	default:
		p.bearing(x)
	}
	return true
}

func (p *parser) face(x float64) {
	n := int(x)
	if float64(n) != x || n < 1 || n > p.rig.Faces {
		p.fault("face %g is not on rig %s: its faces are 1 to %d", x, p.rig.Key(), p.rig.Faces)
		return
	}
	if p.said.Face != 0 && p.said.Face != n {
		p.fault("says face %d and face %d: write what is right", p.said.Face, n)
		return
	}
	p.said.Face = n
}

func (p *parser) bearing(deg float64) {
	if deg < -360 || deg > 360 {
		p.fault("a bearing of %g degrees is not between -360 and 360", deg)
		return
	}
	p.number("bearing", &p.said.BearingDeg, bearing.Wrap360(deg))
}

func (p *parser) height(m float64) {
	if m < 0 || m > p.rig.Bag.LengthM {
		p.fault("a height of %g m is not on the bag of rig %s, which is %g m long", m, p.rig.Key(), p.rig.Bag.LengthM)
		return
	}
	p.number("height", &p.said.HeightM, m)
}

func (p *parser) number(what string, at **float64, x float64) {
	if *at != nil && **at != x {
		p.fault("says two %ss, %g and %g: write what is right", what, **at, x)
		return
	}
	*at = &x
}

func (p *parser) text(what string, at *string, word string) {
	if *at != "" && *at != word {
		p.fault("says two %ss, %s and %s: write what is right", what, *at, word)
		return
	}
	*at = word
}

// band is the rig's band of a name; middle is another word for mid.
func (p *parser) band(word string) string { return band(p.rig, word) }

func band(rg *rig.Rig, word string) string {
	for _, name := range []string{word, map[string]string{"middle": "mid"}[word]} {
		i := slices.IndexFunc(rg.Bands, func(b rig.Band) bool { return name != "" && strings.EqualFold(b.Name, name) })
		if i >= 0 {
			return rg.Bands[i].Name
		}
	}
	return ""
}

// number reads a plain decimal number.
func number(word string) (float64, bool) {
	if word == "" || strings.Trim(word, "0123456789.-") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(word, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// words cuts a text into words in lower case. A number and the letters right
// beside it are two words (f3, 62cm) unless together they name a band; signs of
// punctuation part words, and a question mark, # and ° are words of their own.
func words(text string, rg *rig.Rig) []string {
	var out []string
	for word := range strings.FieldsFuncSeq(strings.ToLower(text), func(r rune) bool {
		return unicode.IsSpace(r) || strings.ContainsRune(",;:/()[]!+|\"'", r)
	}) {
		if band(rg, word) != "" {
			out = append(out, word)
			continue
		}
		start, last := 0, sortOf(0)
		for i, r := range word {
			sort := sortOf(r)
			if i > start && (sort != last || sort == sign) {
				out = append(out, word[start:i])
				start = i
			}
			last = sort
		}
		out = append(out, word[start:])
	}
	for i := range out {
		out[i] = strings.TrimRight(out[i], ".-")
	}
	return slices.DeleteFunc(out, func(word string) bool { return word == "" })
}

// Sorts of characters in a word.
const (
	letter = iota
	digit
	sign
)

func sortOf(r rune) int {
	switch {
	case unicode.IsDigit(r), r == '.', r == '-':
		return digit
	case r == '?', r == '#', r == '°':
		return sign
	}
	return letter
}
