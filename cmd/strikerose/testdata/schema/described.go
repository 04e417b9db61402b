// Package described has types as commands print them, some of them badly described:
// the tests of the schemas read it.
package described

import "encoding/json"

// Sort is a sort of blow.
type Sort string

const (
	Hard Sort = "hard"
	Soft Sort = "soft"
)

// Words that stand in comments.
const (
	Upper = "up"
	lower = "down"
)

// Ways lists ways.
func Ways() []string { return []string{Upper, lower, "side ways"} }

// Good is described throughout, and TurnDeg is as printed. The second sentence is left out.
type Good struct {
	Name string `json:"name"` // what it is called
	// SizeM is the size
	// in metres, above 0.
	SizeM      float64        `json:"size_m"`
	TurnDeg    *float64       `json:"turn_deg"`           // degrees, in (-180, 180]; null where not known
	ShareOf    *float64       `json:"share_of,omitempty"` // in [0, 1]; absent where not known
	Sort       Sort           `json:"sort"`               // sort of blow
	Way        string         `json:"way"`                // one of Ways
	Unit       string         `json:"unit"`               // one of Upper, s or "m per s"
	Three      [3]float64     `json:"three"`              // each at least 0
	Counts     map[string]int `json:"counts"`             // strikes by name
	Next       *Good          `json:"next"`               // another; null for none
	Known      *Written       `json:"known"`              // as written; never null
	Unwritten  int            `json:"-"`
	Seed       uint64         `json:"seed"` // of everything random
	Parts                     // printed as its own
	unexported int
}

// Parts is embedded.
type Parts struct {
	Notes []string `json:"notes"` // in words; empty for none
}

// Written writes itself.
type Written struct {
	Value float64 // the number; null where not known
}

// MarshalJSON writes what is not known as null.
func (w Written) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Value *float64 `json:"value"`
	}{&w.Value})
}

type Bad struct {
	Bare     int      `json:"bare"`
	Left     string   `json:"left,omitempty"` // where it lies
	Null     *float64 `json:"null"`           // how large
	Untagged int      // without a tag
	Way      string   `json:"way"`    // one of Nowhere or Upper
	Text     string   `json:"text"`   // at least 0
	Number   int      `json:"number"` // one of a or b
	// Twice is above.
	Twice int `json:"twice"` // and beside
}
