package report

import (
	"fmt"
	"io"
	"math"

	"strikerose/eval/advice"
)

// RigChangeText writes what changes from one rig to another for a terminal, at
// most Width columns wide.
func RigChangeText(w io.Writer, c *advice.Change) error {
	t := &changeWriter{c: c}
	a, b := c.Before, c.After
	t.line("%s against %s", a.Key, b.Key)
	t.drawings()
	t.values()
	t.table("Free motion", func(s *advice.Sheet) []quantity {
		var out []quantity
		for _, m := range s.Modes {
			out = append(out, quantity{m.Name + ", Hz, " + m.From, &m.Hz, 1, 3})
		}
		return out
	})
	t.table("Mass and dead height", func(s *advice.Sheet) []quantity {
		return []quantity{
			{"centre of mass, height in m", &s.Mass.CentreHeightM, 1, 3},
			{"radius of gyration, m", &s.Mass.GyrationM, 1, 3},
			{"dead height, m", s.Dead.HeightM, 1, 3},
			{"flips of peak and arctangent, % of heights", &s.Dead.FlipShare, 100, 0},
			{"weak first kick, from height in m", ifSome(s.Dead.WeakFromM, s.Dead), 1, 2},
			{"weak first kick, to height in m", ifSome(s.Dead.WeakToM, s.Dead), 1, 2},
		}
	})
	t.table("Workable limit of any detector", func(s *advice.Sheet) []quantity {
		var out []quantity
		for i := len(s.Bands) - 1; i >= 0; i-- {
			x := s.Bands[i]
			out = append(out,
				quantity{x.Name + ", flips, % of heights", &x.FlipShare, 100, 0},
				quantity{x.Name + ", bearing, deg", x.WorkableLimit.BearingSDDeg, 1, 2},
				quantity{x.Name + ", height, cm", x.WorkableLimit.HeightSDM, 100, 1})
		}
		return append(out,
			quantity{"misplaced, % of strikes", &s.Whole.MisplacedShare, 100, 1},
			quantity{"wait for both tolerances, ms", s.Whole.AnswerAfterS, 1000, 0})
	})
	t.table("A hard blow", func(s *advice.Sheet) []quantity {
		return []quantity{
			{"largest reading, g", &s.Whole.HardestG, 1, 1},
			{"can clip from, N", &s.Whole.ClipsFromN, 1, 0},
			{"clips, % of heights", &s.Whole.ClippedShare, 100, 0},
		}
	})
	for i, s := range []*advice.Sheet{a, b} {
		t.line("")
		t.line("Advice %s: %s", []string{"before", "after"}[i], s.Key)
		if len(s.Advice) == 0 {
			t.line("  None: nothing in the file gains half a strike in 100.")
		}
		for _, x := range s.Advice {
			t.wrap(fmt.Sprintf("%s Gain: %s.", x.Do, x.Gain), "  - ")
		}
	}
	_, err := io.WriteString(w, t.b.String())
	return err
}

// changeWriter writes the parts of a change.
type changeWriter struct {
	textWriter
	c *advice.Change
}

// drawings draws both rigs to one scale.
func (t *changeWriter) drawings() {
	a, b := t.c.Before, t.c.After
	rowM := max(rowHeight(a), rowHeight(b))
	t.line("")
	for _, row := range beside(drawRig(a, rowM), drawRig(b, rowM)) {
		t.line("%s", row)
	}
	t.line("")
	t.wrap("S sensor, + centre of mass, ╌ dead height, ║ skin where the first kick is reversed, ░ core. Both to one scale; a chain with a gap is longer than drawn.", "")
}

func (t *changeWriter) values() {
	t.line("")
	if len(t.c.Values) == 0 {
		t.line("The files say the same.")
		return
	}
	t.line("%-32s%-24s%s", "In the files", "before", "after")
	for _, v := range t.c.Values {
		if len([]rune(v.Before)) > 22 || len([]rune(v.After)) > 22 {
			t.line("  %s", v.Key)
			t.wrap(v.Before, "    before: ")
			t.wrap(v.After, "    after:  ")
			continue
		}
		t.line("  %-30s%-24s%s", v.Key, v.Before, v.After)
	}
}

// quantity is a number of a sheet under its name; nil is none.
type quantity struct {
	name   string
	value  *float64
	scale  float64
	digits int
}

// table writes the quantities of both sheets side by side, by their names:
// what one of them lacks is a dash.
func (t *changeWriter) table(title string, of func(*advice.Sheet) []quantity) {
	t.line("")
	t.line("%-46s%10s%10s%10s", title, "before", "after", "change")
	before, after := of(t.c.Before), of(t.c.After)
	find := func(all []quantity, name string) (quantity, bool) {
		for _, q := range all {
			if q.name == name {
				return q, true
			}
		}
		return quantity{}, false
	}
	row := func(a, b quantity) {
		change := ""
		if a.value != nil && b.value != nil {
			by := rounded(b) - rounded(a) // so that the row adds up
			change = number(by, 1, a.digits)
			if by > 0 {
				change = "+" + change
			}
		}
		name := a.name
		if name == "" {
			name = b.name
		}
		t.line("  %-44s%10s%10s%10s", clip(name, 43), orDash(a), orDash(b), change)
	}
	for _, a := range before {
		b, _ := find(after, a.name)
		row(a, b)
	}
	for _, b := range after {
		if _, ok := find(before, b.name); !ok {
			row(quantity{}, b)
		}
	}
}

// ifSome is an end of the heights whose first kick is weak, nil for none.
func ifSome(endM float64, d advice.Dead) *float64 {
	if d.WeakFromM == d.WeakToM {
		return nil
	}
	return &endM
}

// rounded is a quantity as it is written.
func rounded(q quantity) float64 {
	tenth := math.Pow(10, float64(q.digits))
	return math.Round(*q.value*q.scale*tenth) / tenth
}

func orDash(q quantity) string {
	if q.value == nil {
		return "-"
	}
	return number(*q.value, q.scale, q.digits)
}
