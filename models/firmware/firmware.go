// Package firmware writes a detector as C for a board: the arithmetic, a
// coefficient table, and golden vectors with a program that checks them.
//
// The arithmetic of a detector is described once, as a short list of steps on
// feature values (see program). Go runs the steps, in float64 or rounded to
// float32 after each operation, and the C is written from the same steps.
// Before anything leaves, the steps are run on every golden vector and compared
// with the detector itself.
//
// An exported directory holds
//
//	table.json          every number by name and unit, what the inputs are, the
//	                    rig, and where the detector comes from (see Table)
//	strikerose_model.h  the interface: indices of the inputs, the answer
//	strikerose_model.c  the arithmetic
//	strikerose_table.h  the numbers of table.json; a new table replaces this
//	                    file and, for its checksum, strikerose_model.h
//	strikerose_axes.h   readings from the sensor's axes to the bag's, calibrated
//	vectors.h           golden vectors: inputs in float32, the detector's
//	                    answers to them in float64
//	check.c             runs the vectors, prints the worst differences, exits
//	                    with 1 beyond Tolerance (see Miss) or on a changed number
//
// To export one more family, resolve its parameters for a rig in sourceOf and
// write its steps on a builder, as ridge and cart do; the tables, the C, the
// vectors and the checks follow from them.
//
// The C is C99 for float32, takes the features of one strike, uses no heap and
// no recursion, and needs nothing but stdint.h and math.h. Detectors whose
// arithmetic is not described here, and features that cannot run on a board,
// are refused with the reason. The package reads fitted detectors only, never
// recordings or labels; files are the caller's to write.
package firmware

import (
	"fmt"

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
func Detectors() []string { return []string{"peak-arctangent", "pendulum", "complex-ridge", "cart"} }

// Export writes a detector for one rig. Inputs are rows of features of real
// strikes, as features.Extract gives them for this rig; golden vectors are made
// of some of them, or made up where there are none, and of extremes. It refuses
// a detector or a feature that cannot run on a board, and says why.
func Export(f *models.File, r *rig.Rig, inputs []features.Row, o Options) (*Bundle, error) {
	m, ok := f.Detector.(*models.Model)
	if !ok {
		return nil, fmt.Errorf("export: %T is not one of this program's detectors", f.Detector)
	}
	m = m.For(r)
	s, err := sourceOf(m, r)
	if err != nil {
		return nil, err
	}
	p, err := describe(s, r)
	if err != nil {
		return nil, err
	}
	vectors, counts, err := p.goldens(m, r, inputs)
	if err != nil {
		return nil, fmt.Errorf("export: %s on rig %s: golden vectors: %w", s.name, r.Key(), err)
	}
	t := p.table(s, r, f.Training, o, counts)
	table, err := t.encode()
	if err != nil {
		return nil, err
	}
	b := &Bundle{Files: []File{
		{fileTable, table},
		{fileHeader, p.header(&t)},
		{fileNumbers, p.numbers(&t)},
		{fileCode, p.code(&t)},
		{fileAxes, axesHeader(r)},
		{fileVectors, p.vectorsHeader(&t, vectors)},
		{fileCheck, p.check(&t)},
	}}
	b.Notes = notes(s, r, counts)
	return b, nil
}

// notes tells what the user may not expect.
func notes(s source, r *rig.Rig, counts TableVectors) []string {
	var out []string
	if !s.yawKnown {
		out = append(out, fmt.Sprintf("%s has learned nothing of rig %s: its yaw offset is 0 until it is trained on labelled strikes of that rig", s.name, r.Key()))
	}
	if !s.certainty.Calibrated {
		out = append(out, "the stated certainty is a guess, not measured: "+s.certainty.How)
	}
	if counts.Recorded == 0 {
		out = append(out, "no golden vector comes from a real strike: they are made up: give a corpus with strikes on this rig")
	}
	if counts.LeftOut > 0 {
		out = append(out, fmt.Sprintf("%d golden vectors were left out: they lie nearer to a threshold than float32 resolves", counts.LeftOut))
	}
	return out
}
