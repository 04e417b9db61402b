// Package intake reads the logs that boards write and turns them into signals
// in SI units on a repaired clock.
//
// It holds one decoder per dialect (comma-separated counts, comma-separated
// units, console text, JSON Lines, packed binary frames), the recognition of a
// dialect by its content, the choice and check of units against the still
// reading, the repair of the board's clock, and the account of everything that
// was not a good record. Each record of a log is either a sample or counted
// among the damaged ones, with the first positions named.
//
// It refuses logs whose damage exceeds a stated share, whose still reading is
// not near one g or does not point up, and whose rate is not the rig's. It
// stores nothing: the caller keeps the verbatim log and the signal. It sits on
// top of dataset and dataset/rig, beside dataset/corpus.
package intake

import "strikerose/dataset"

// Options override what would else be recognised, taken from the rig or
// guessed. The zero value overrides nothing.
type Options struct {
	Dialect         string  // name of a dialect, see Dialects
	TimeUnit        string  // us, ms, s
	AccelUnit       string  // counts, g, mg, m/s2
	GyroUnit        string  // counts, dps, rad/s
	Separator       rune    // comma, semicolon, tab or space; 0: recognised
	DecimalComma    *bool   // nil: recognised
	MaxDamagedShare float64 // damaged records tolerated, as a share of all; 0: DefaultMaxDamagedShare
}

// DefaultMaxDamagedShare is the share of damaged records above which a log is
// refused. It is a choice, no source: a log with one record in five damaged
// has a fault to mend before it is worth reading.
const DefaultMaxDamagedShare = 0.20

// Result is what one log gave.
type Result struct {
	Session dataset.Session // all fields but Name, Rig and Striker
	Signal  dataset.Signal
	Guessed []string // what was guessed, in words
	Notes   []string // what the user should know besides
}

// Progress is told how many bytes of the log have been read. A nil Progress is
// allowed.
type Progress interface{ Add(n int64) }
