// Package report turns a comparison into text for a terminal, CSV, JSON and
// one self-contained page. It reads no files and no clock: the same input
// gives the same bytes.
package report

import (
	"errors"
	"io"

	"strikerose/eval"
)

// Meta says what was compared, for the parts that say how numbers were made.
type Meta struct {
	Corpus  string // identity of the corpus
	Tool    string // name and version
	Command string // that makes the report again
}

// Text writes a table for a terminal, at most 80 columns wide.
func Text(w io.Writer, c *eval.Comparison) error { return errors.New("report: not written yet") }

// CSV writes one line a group, detector and measure.
func CSV(w io.Writer, c *eval.Comparison) error { return errors.New("report: not written yet") }

// JSON writes the comparison as it marshals, indented.
func JSON(w io.Writer, c *eval.Comparison, m Meta) error {
	return errors.New("report: not written yet")
}

// HTML writes one self-contained page.
func HTML(w io.Writer, c *eval.Comparison, m Meta) error {
	return errors.New("report: not written yet")
}
