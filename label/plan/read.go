package plan

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/table"
)

// maxOrder is the largest order that a table of labels has room for.
const maxOrder = math.MaxInt32

// Entry is one strike of a plan.
type Entry struct {
	Order int // as the file says; unique
	Face  int
	Band  string
	Kind  string   // straight, hook, uppercut or tap
	Pair  string   // one, two or ""
	CallS *float64 // when the strike was called out, seconds on a clock of its own; nil unknown
}

// Read reads a plan and returns its entries by rising order: CSV with a header
// that names order, face, band and kind and may name pair and call_s; other
// columns are ignored. Comma, semicolon, tab and bar separate. Faces, bands and
// kinds that the rig does not have, orders given twice or below 0 and calls that
// go back in time are refused, every fault with its line and column where it has
// one; name is used in the messages.
func Read(r io.Reader, name string, rg *rig.Rig) ([]Entry, error) {
	t, err := table.Read(r, name, "order", "face", "band", "kind")
	if err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	if err := t.OneSession(); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	order, face, band, kind := t.Column("order"), t.Column("face"), t.Column("band"), t.Column("kind")
	pair, call := t.Column("pair"), t.Column("call_s")
	firstLine := make(map[int]int)
	var entries []Entry
	for _, row := range t.Rows {
		var e Entry
		var ok bool
		if e.Order, ok = t.Int(row, order); ok {
			if e.Order < 0 || e.Order > maxOrder {
				t.Fault(row, order, "order %d is not from 0 to %d: number the strikes from 1", e.Order, maxOrder)
			}
			if line := firstLine[e.Order]; line > 0 {
				t.Fault(row, order, "order %d was given on line %d already: number the strikes in the order they are thrown", e.Order, line)
			} else {
				firstLine[e.Order] = row.Line()
			}
		}
		if e.Face, ok = t.Int(row, face); ok && (e.Face < 1 || e.Face > rg.Faces) {
			t.Fault(row, face, "face %d is not on rig %s: its faces are 1 to %d", e.Face, rg.Key(), rg.Faces)
		}
		if e.Band, ok = bandNamed(rg, row.Cell(band)); !ok {
			t.Fault(row, band, "band %q is not on rig %s: its bands are %s", row.Cell(band), rg.Key(), bandNames(rg))
		}
		if e.Kind, ok = label.ParseKind(row.Cell(kind)); !ok {
			t.Fault(row, kind, "kind %q is unknown: use one of %s", row.Cell(kind), strings.Join(label.Kinds(), ", "))
		}
		switch e.Pair = strings.ToLower(row.Cell(pair)); e.Pair {
		case "", "one", "two":
		default:
			t.Fault(row, pair, "pair %q is unknown: use one and two for the strikes of a double hit, nothing elsewhere", row.Cell(pair))
		}
		if row.Cell(call) != "" {
			if s, ok := t.Float(row, call); ok {
				e.CallS = &s
			}
		}
		entries = append(entries, e)
	}
	if err := t.Err(); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	if len(entries) == 0 {
		return nil, fmt.Errorf("plan: %s: it has a header but no strikes", name)
	}
	slices.SortFunc(entries, func(a, b Entry) int { return cmp.Compare(a.Order, b.Order) })
	if err := checkCalls(entries); err != nil {
		return nil, fmt.Errorf("plan: %s: %w", name, err)
	}
	return entries, nil
}

func bandNamed(rg *rig.Rig, text string) (string, bool) {
	for _, b := range rg.Bands {
		if strings.EqualFold(b.Name, text) {
			return b.Name, true
		}
	}
	return "", false
}

func bandNames(rg *rig.Rig) string {
	names := make([]string, len(rg.Bands))
	for i, b := range rg.Bands {
		names[i] = b.Name
	}
	return strings.Join(names, ", ")
}
