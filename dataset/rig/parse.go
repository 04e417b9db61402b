package rig

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"strikerose/dataset/shell"
)

// defaultFaces is how many faces a rig has that does not say so.
const defaultFaces = 6

// Fault is one thing wrong with a rig file, and how to mend it. Line and Col
// count from 1.
type Fault struct {
	Name      string // of the file
	Line, Col int
	What      string
	Mend      string
}

// Error writes the fault as name:line:col: what: how to mend it.
func (f *Fault) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s: %s", f.Name, f.Line, f.Col, f.What, f.Mend)
}

// Load reads and checks a rig file.
func Load(path string) (*Rig, error) {
	data, err := ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w: strikerose rig new %s writes one to fill in", err, shell.Word(path))
	}
	if err != nil {
		return nil, err
	}
	return Parse(data, path)
}

// Parse reads and checks the text of a rig file; name stands at the head of
// its errors. It is strict: unknown keys, values of the wrong type and values
// out of range are refused. The first 20 faults are reported, each a *Fault,
// joined in the order of the file, and the number of the others. A rig that it
// returns is complete: faces and bands that the file leaves out are six, and low,
// mid and high thirds.
func Parse(data []byte, name string) (*Rig, error) {
	if len(data) > maxFileBytes {
		return nil, &Fault{Name: name, Line: 1, Col: 1, What: fmt.Sprintf("longer than %d KB", maxFileBytes>>10), Mend: "is it a rig file? strikerose rig new writes one to fill in"}
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	s := scan(data)
	faults := s.faults
	r, err := decode(data, s)
	if err != nil {
		faults = append(faults, decodeFault(err))
	} else {
		if !s.has("faces") {
			r.Faces = defaultFaces
		}
		if !s.has("bands") {
			r.Bands = thirds(r.Bag.LengthM)
		}
		for _, p := range r.problems(s.has) {
			if s.spoilt(p.path) {
				continue // its type was complained about already
			}
			at := s.position(p.path)
			faults = append(faults, &Fault{Line: at.line, Col: at.col, What: p.what, Mend: p.mend})
		}
	}
	if len(faults) == 0 {
		return r, nil
	}
	slices.SortStableFunc(faults, func(a, b *Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col))
	})
	var all []error
	for _, f := range faults[:min(len(faults), maxFaults)] {
		f.Name = name
		all = append(all, f)
	}
	if more := s.more + max(0, len(faults)-maxFaults); more > 0 {
		all = append(all, fmt.Errorf("%s: faults not listed: %d more", name, more))
	}
	return nil, errors.Join(all...)
}

// decode reads the values. Those of the wrong type, which the scan has found,
// are left out so that the rest can still be checked.
func decode(data []byte, s *scanned) (*Rig, error) {
	var r Rig
	if len(s.wrong) == 0 {
		return &r, toml.Unmarshal(data, &r)
	}
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		return nil, err
	}
	for path := range s.wrong {
		remove(tree, path)
	}
	rest, err := toml.Marshal(tree)
	if err != nil {
		return nil, err
	}
	return &r, toml.Unmarshal(rest, &r)
}

// decodeFault takes over the position of a fault in the TOML itself.
func decodeFault(err error) *Fault {
	f := &Fault{Line: 1, Col: 1, What: strings.TrimPrefix(err.Error(), "toml: "), Mend: "see toml.io for how TOML is written"}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		f.Line, f.Col = de.Position()
		f.Line, f.Col = max(f.Line, 1), max(f.Col, 1)
	}
	return f
}

// thirds divides a length into low, mid and high. For a length that is refused
// anyway any thirds do.
func thirds(lengthM float64) []Band {
	if !(lengthM > 0) || math.IsInf(lengthM, 1) {
		lengthM = 1
	}
	return []Band{{Name: "low", ToM: lengthM / 3}, {Name: "mid", ToM: 2 * lengthM / 3}, {Name: "high"}}
}

// Encode writes the rig as a rig file, without comments. Parse reads it back
// to an equal rig.
func (r *Rig) Encode() ([]byte, error) { return toml.Marshal(r) }
