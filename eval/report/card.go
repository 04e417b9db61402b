package report

import (
	_ "embed"
	"fmt"
	"io"
	"math"
	"strings"
	"text/template"
	"unicode"
)

//go:embed card.gomd
var cardTemplate string

// Card is what a corpus knows of itself, for a datasheet (Gebru et al. 2021,
// Communications of the ACM 64(12):86-92, whose questions are put in this
// project's words). What it cannot know is left to be filled in by a person.
type Card struct {
	Meta
	Rigs      []CardRig
	Sessions  []CardSession
	Strikers  []string        // as named at import, sorted; sessions without one are counted apart
	Unnamed   int             // sessions without a striker
	Simulated []CardSimulated // sessions whose labels call themselves simulated
	Labels    []CardLabels
	Agreement []CardAgreement
	Gaps      []string // known gaps, a sentence each
	Splits    []CardSplit
}

// CardRig is one rig revision of the corpus.
type CardRig struct {
	Key            string
	Sessions       int
	BagM, BagKg    float64
	SensorDepthM   float64
	RateHz         float64
	Gyro, Measured bool // Measured: its sensor was calibrated
}

// CardSession is one session of the corpus.
type CardSession struct {
	Name, Rig, Striker string
	DurationS, RateHz  float64
	Strikes            int  // found
	Found              bool // whether strikes were looked for
	Labelled           int
	LostSamples        int64
	Restarts           int
	Clipped            int64 // samples
}

// CardSimulated is a session whose labels call themselves simulated, by whom.
type CardSimulated struct{ Session, By string }

// CardLabels counts the strikes that one source labels on one rig, by face and
// by band; a label that does not say counts in neither.
type CardLabels struct {
	Rig, Source string
	Strikes     int
	Faces       []int // from face 1
	Bands       []string
	InBand      []int
}

// CardAgreement is one measure of agreement between labellers.
type CardAgreement struct {
	What, Labellers, Measure, Unit string
	Value, Low, High               float64
	Strikes                        int
}

// CardSplit is a way to part the sessions into training and test.
type CardSplit struct{ Leave, Why, Command string }

// Seconds is the length of all sessions together.
func (c Card) Seconds() (s float64) {
	for _, x := range c.Sessions {
		s += x.DurationS
	}
	return s
}

// Found is the number of strikes found in all sessions.
func (c Card) Found() (n int) {
	for _, x := range c.Sessions {
		n += x.Strikes
	}
	return n
}

// Labelled is the number of strikes with a label of any source.
func (c Card) Labelled() (n int) {
	for _, x := range c.Sessions {
		n += x.Labelled
	}
	return n
}

// markdownCell is a name or word of a file as a cell of a table, "-" for none.
// Whoever wrote it may be a stranger: what Markdown would take for a link, HTML or
// the cell's end is escaped, and what does not print is a blank.
func markdownCell(s string) string {
	if s == "" {
		return "-"
	}
	var out strings.Builder
	for _, c := range s {
		switch {
		case !unicode.IsGraphic(c):
			c = ' '
		case strings.ContainsRune("\\`|<>&[]*", c):
			out.WriteByte('\\')
		}
		out.WriteRune(c)
	}
	return out.String()
}

// Markdown writes a card. What a person has to fill in reads "TO FILL IN".
func (c Card) Markdown(w io.Writer) error {
	t, err := template.New("card").Funcs(template.FuncMap{
		"blank": func(what string) string { return "**TO FILL IN:** " + what },
		"counted": func(n int, word string) string {
			if n == 1 {
				return "1 " + word
			}
			return fmt.Sprintf("%d %ss", n, word)
		},
		"number": func(x float64, decimals int) string {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return "-"
			}
			return fmt.Sprintf("%.*f", decimals, x)
		},
		"cell": markdownCell,
		"counts": func(names []string, n []int) string {
			var parts []string
			for i, k := range n {
				name := fmt.Sprint(i + 1)
				if names != nil {
					name = names[i]
				}
				parts = append(parts, fmt.Sprintf("%s: %d", name, k))
			}
			return strings.Join(parts, ", ")
		},
	}).Parse(cardTemplate)
	if err != nil {
		return err
	}
	return t.Execute(w, c)
}
