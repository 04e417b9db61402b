package rig

import (
	"bytes"
	"os"

	"github.com/pelletier/go-toml/v2"
)

// Load reads and checks a rig file.
func Load(path string) (*Rig, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return Parse(data, path)
}

// Parse reads and checks the text of a rig file; name is put in front of
// errors.
func Parse(data []byte, name string) (*Rig, error) {
	var r Rig
	d := toml.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&r); err != nil {
		return nil, err
	}
	return &r, nil
}

// Encode writes the rig as a rig file.
func (r *Rig) Encode() ([]byte, error) { return toml.Marshal(r) }
