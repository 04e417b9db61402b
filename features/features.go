// Package features turns a strike's window into named numbers in the bag's
// frame.
//
// A horizontal vector is written as y + i x (see dataset/bearing), so that
// turning the recording turns every vector feature by the same angle and
// leaves every scalar as it is. Rotation across the bag is written as the way
// in which points above the centre of rotation move, w = -wx + i wy.
//
// Each feature says which stretch of time after the onset it reads. A value
// depends on nothing outside, so a longer window never changes it. Means over
// a stretch weigh the samples at its edges by the part that lies inside:
// sample j after the onset stands for the time from j to j+1 sample periods.
// For one rate those weights are fixed, as a board wants them.
//
// The package refuses to see labels: it imports nothing that knows them. It
// sits between features/chain, which cuts windows, and models.
package features

import (
	"fmt"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Def describes one feature.
type Def struct {
	Name, Unit, Doc string

	Vector bool // two columns, NAME_x toward bearing 90 and NAME_y toward bearing 0
	// Odd: the value changes its sign when the recording is mirrored (bearing b
	// to -b). Vectors are mirrored, other scalars stay.
	Odd          bool
	FromMs, ToMs float64 // stretch of the window that it reads, after the onset
	NeedsGyro    bool
	Board        bool   // can run on a board
	NotBoard     string // if not, why
	Macs         int    // multiply-accumulates a strike at 1000 Hz, without those of features it builds on
}

// Column is one number of a row.
type Column struct {
	Name, Unit, Doc string
	Def             int // position of its feature in All
}

// All returns every feature in a fixed order.
func All() []Def {
	defs := make([]Def, len(table))
	for i, d := range table {
		defs[i] = d.Def
	}
	return defs
}

// Columns returns the columns of a row in order.
func Columns() []Column {
	var out []Column
	for i, d := range table {
		if !d.Vector {
			out = append(out, Column{Name: d.Name, Unit: d.Unit, Doc: d.Doc, Def: i})
			continue
		}
		out = append(out,
			Column{Name: d.Name + "_x", Unit: d.Unit, Doc: d.Doc + ", toward bearing 90", Def: i},
			Column{Name: d.Name + "_y", Unit: d.Unit, Doc: d.Doc + ", toward bearing 0", Def: i})
	}
	return out
}

// Extract fills dst with one value per column and returns it; nil allocates,
// and a dst of another length than Columns is a programmer's mistake and
// panics. A feature that needs a gyroscope where the window has none, or
// reads further than the window reaches, is NaN; all others are finite for
// finite samples. The rig gives lengths and masses.
func Extract(w *dataset.Window, r *rig.Rig, dst []float64) []float64 {
	if dst == nil {
		dst = make([]float64, columns)
	}
	if len(dst) != columns {
		panic(fmt.Sprintf("features: row has %d columns, not %d", len(dst), columns))
	}
	v := newView(w, r)
	at := 0
	for _, d := range table {
		n := 1
		if d.Vector {
			n = 2
		}
		switch {
		case d.NeedsGyro && !w.HasGyro() || !v.reaches(d.FromMs, d.ToMs):
			for i := range n {
				dst[at+i] = math.NaN()
			}
		case d.Vector:
			z := d.vector(v)
			dst[at], dst[at+1] = imag(z), real(z)
		default:
			dst[at] = d.scalar(v)
		}
		at += n
	}
	return dst
}

// Longest returns how much of a window all features together need.
func Longest() (preMs, postMs float64) {
	for _, d := range table {
		preMs, postMs = max(preMs, -d.FromMs), max(postMs, d.ToMs)
	}
	return preMs, postMs
}

// DefOf returns a feature's definition. An unknown name panics; see Known.
func DefOf(name string) Def { return table[find(name)].Def }

// ToMs is the time after the onset up to which the named features read, 0 for
// none. An unknown name panics.
func ToMs(names ...string) float64 {
	to := 0.0
	for _, n := range names {
		to = max(to, table[find(n)].ToMs)
	}
	return to
}
