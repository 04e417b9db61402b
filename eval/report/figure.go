package report

import (
	"encoding/csv"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Figure is one drawing of a comparison with the numbers that it shows. The page
// holds the same drawings.
type Figure struct {
	Name  string     // of lower-case letters, digits and hyphens; no two of a comparison are alike
	Title string     // in words, for those who cannot see it
	Heads []string   // of the numbers, with their units
	Rows  [][]string // empty cells where not known

	width, height vg.Length
	paint         func(draw.Canvas)
}

// SVG writes the drawing as a file of its own. The same comparison gives the
// same bytes.
func (f Figure) SVG(w io.Writer) error { return standalone(w, f.width, f.height, f.Title, f.paint) }

// CSV writes the numbers below their heads.
func (f Figure) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.WriteAll(append([][]string{f.Heads}, f.Rows...)); err != nil {
		return fmt.Errorf("report: figure %s: %w", f.Name, err)
	}
	return nil
}

// drawn returns the figures as parts of a page.
func drawn(figures ...Figure) ([]template.HTML, error) {
	var out []template.HTML
	for _, f := range figures {
		svg, err := inline(f.width, f.height, f.Title, f.paint)
		if err != nil {
			return nil, fmt.Errorf("figure %s: %w", f.Name, err)
		}
		out = append(out, svg)
	}
	return out, nil
}

// figureName joins words into a name, leaving out those that are empty.
func figureName(words ...string) string {
	var parts []string
	for _, w := range words {
		clean := strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
				return r
			}
			return '-'
		}, strings.ToLower(w))
		if clean = strings.Trim(clean, "-"); clean != "" {
			parts = append(parts, clean)
		}
	}
	return strings.Join(parts, "-")
}

// strikeHeads are the heads of the cells that name a strike.
func strikeHeads(more ...string) []string { return append([]string{"session", "onset_s"}, more...) }

// strikeRow names a strike of the section, by position in the comparison, before
// numbers about it.
func (s section) strikeRow(strike int, numbers ...float64) []string {
	x := s.c.Strikes[strike]
	row := []string{x.Session, strconv.FormatFloat(float64(x.OnsetNs)/1e9, 'f', 3, 64)}
	for _, n := range numbers {
		row = append(row, plain(n))
	}
	return row
}

// of names a detector's figure of the section's rig in words.
func (s section) of(detector string) string {
	if s.group.Rig == "" {
		return "of " + detector
	}
	return fmt.Sprintf("of %s on rig %s", detector, s.group.Rig)
}
