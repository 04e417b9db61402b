package models

import (
	"errors"
	"io"
)

// Training says how a detector was made. It is written into its file.
type Training struct {
	Seed     uint64   `json:"seed"`
	Sessions []string `json:"sessions"`
	Truth    string   `json:"truth"` // timed, hand, plan or best
	Tool     string   `json:"tool,omitempty"`
	Why      string   `json:"why,omitempty"` // why this detector, where it was picked
}

// File is a detector as it was loaded, with how it was made.
type File struct {
	Detector Detector
	Training Training
	Rigs     []string // keys of the rigs it was trained on
}

// Save writes a detector as versioned JSON.
func Save(w io.Writer, d Detector, t Training) error {
	return errors.New("models: save: not written yet")
}

// Load reads what Save wrote.
func Load(r io.Reader) (*File, error) { return nil, errors.New("models: load: not written yet") }
