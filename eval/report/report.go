// Package report turns a comparison into text for a terminal, CSV, JSON and
// one self-contained page. It reads no files and no clock, and writes no host
// names or paths but what it is given: the same input gives the same bytes.
// It is the only package that draws (gonum/plot).
package report

// Meta says what was compared, for the parts that say how numbers were made.
type Meta struct {
	Corpus      string // name of its directory
	Contents    string // SHA-256 of the logs and labels read; "" where not known
	Simulated   int    // sessions whose labels call themselves simulated
	Tool        string // name and version
	Definitions string // versions of features and chain; "" where not known
	Command     string // that makes the report again
	Draw        Choice // detectors that are drawn
}
