package report

import (
	"fmt"
	"strings"

	"strikerose/eval"
)

// markMatters stands before the errors of a factor that matters.
const markMatters = "!"

// sensitivityTables write what errors depend on, a table a rig.
func (t *textWriter) sensitivityTables() {
	for _, s := range t.c.Sensitivity {
		t.line("")
		t.wrap(sensitivityTitle(s), "")
		level := fmt.Sprintf("[%.3g %%]", 100*t.c.Level)
		t.line("%-36s%5s%6s %-12s%6s %s", "", "n", "deg", level, "cm", level)
		for _, f := range s.Factors {
			name := f.Name
			for _, l := range f.Levels {
				t.line("%-15s %-20s%5d%1s%5s %-12s%1s%5s %s", name, clip(l.Name, 20), l.Strikes,
					matters(f.Bearing), number(l.Bearing.Value, 1, 1), interval(l.Bearing, 1, 1),
					matters(f.Height), number(l.Height.Value, 100, 1), interval(l.Height, 100, 1))
				name = ""
			}
		}
	}
}

func matters(e eval.Effect) string {
	if e.Matters {
		return markMatters
	}
	return ""
}

// dependsOn starts the titles of the tables of a text.
const dependsOn = "what the error depends on"

func sensitivityTitle(s eval.Sensitivity) string {
	title := dependsOn
	if s.Rig != "" {
		title += ", rig " + s.Rig
	}
	if s.Height == "" || s.Height == s.Bearing {
		return title + ": " + s.Bearing
	}
	return fmt.Sprintf("%s: bearing of %s, height of %s", title, s.Bearing, s.Height)
}

// sensitivityNote says how it was told what matters; "" without any.
func sensitivityNote(c *eval.Comparison) string {
	if len(c.Sensitivity) == 0 {
		return ""
	}
	return fmt.Sprintf("%s the mean errors of these strikes differ by more than chance (permutation test within sessions, of the noise among sessions, at %.3g %%, Holm-corrected for the number of factors). Factors come together, as hooks with low strikes: one that matters need not be the cause.", markMatters, 100-100*c.Level)
}

// htmlSensitivity is one table of a page.
type htmlSensitivity struct {
	Title string
	Rows  []htmlFactor
}

type htmlFactor struct {
	Factor, Level string
	Strikes       int
	Cells         []htmlCell
}

func buildSensitivity(c *eval.Comparison) []htmlSensitivity {
	var out []htmlSensitivity
	for _, s := range c.Sensitivity {
		h := htmlSensitivity{Title: strings.TrimLeft(strings.TrimPrefix(sensitivityTitle(s), dependsOn), ",: ")}
		for _, f := range s.Factors {
			name := f.Name
			for _, l := range f.Levels {
				h.Rows = append(h.Rows, htmlFactor{Factor: name, Level: l.Name, Strikes: l.Strikes, Cells: []htmlCell{
					{Mark: matters(f.Bearing), Value: number(l.Bearing.Value, 1, 1), Interval: interval(l.Bearing, 1, 1)},
					{Mark: matters(f.Height), Value: number(l.Height.Value, 100, 1), Interval: interval(l.Height, 100, 1)},
				}})
				name = ""
			}
		}
		out = append(out, h)
	}
	return out
}
