// Package features turns a strike's window into named numbers in the bag's
// frame.
//
// A horizontal vector is written as y + i x, so that turning the bag turns
// every vector alike. Nothing here sees a label.
package features

import (
	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Def describes one feature.
type Def struct {
	Name, Unit, Doc string
	Vector          bool    // two columns, NAME_x toward bearing 90 and NAME_y toward bearing 0
	FromMs, ToMs    float64 // stretch of the window that it reads, after the onset
	NeedsGyro       bool
	Board           bool
	NotBoard        string // why it cannot run on a board
	Macs            int    // multiply-accumulates at 1000 Hz
}

// Column is one number of a row.
type Column struct {
	Name, Unit, Doc string
	Def             int // position of its feature in All
}

// All returns every feature in a fixed order.
func All() []Def { return nil }

// Columns returns the columns of a row in order.
func Columns() []Column { return nil }

// Extract fills dst with one value per column. A feature that needs a
// gyroscope where there is none, or more time than the window holds, is NaN.
func Extract(w *dataset.Window, r *rig.Rig, dst []float64) []float64 { return dst }

// Row is one strike's features, one value per column.
type Row []float64

// Vector returns a vector feature as y + i x.
func (r Row) Vector(name string) complex128 { return 0 }

// Scalar returns a scalar feature.
func (r Row) Scalar(name string) float64 { return 0 }

// Has tells whether every named feature has a value in this row.
func (r Row) Has(names ...string) bool { return false }

// ToMs is the time after the onset up to which the named features read.
func ToMs(names ...string) float64 { return 0 }
