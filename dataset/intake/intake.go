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
//
// A log is worked on in chunks of some four minutes that overlap by some seconds.
// Each is repaired by itself, from the pace of the one before, and joined to it
// at a record that both believe in, by the stamp of that record; so memory does
// not grow with the log, and a log of one chunk is done as if there were none.
package intake

import (
	"fmt"
	"io"
	"strings"

	"strikerose/dataset"
)

// Options override what would else be recognised, taken from the rig or
// guessed. The zero value overrides nothing.
type Options struct {
	Dialect         string  // name of a dialect, see Dialects
	TimeUnit        string  // us, ms, s
	AccelUnit       string  // counts, g, mg, m/s2
	GyroUnit        string  // counts, dps, rad/s
	Separator       rune    // comma, semicolon, tab or space; 0: recognised
	DecimalComma    *bool   // nil: recognised
	AnyPose         bool    // the sensor lies in poses of any kind, as for a calibration: at rest only the reading's size is judged
	MaxDamagedShare float64 // damaged records tolerated, as a share of all; 0: DefaultMaxDamagedShare
}

// DefaultMaxDamagedShare is the share of damaged records above which a log is
// refused. It is a choice, no source: a log with one record in five damaged
// has a fault to mend before it is worth reading.
const DefaultMaxDamagedShare = 0.20

// maxDamaged is the share of damaged records that is tolerated.
func (o Options) maxDamaged() float64 {
	if o.MaxDamagedShare == 0 {
		return DefaultMaxDamagedShare
	}
	return o.MaxDamagedShare
}

// check refuses options that mean nothing. Units and dialect are checked where
// they are used.
func (o Options) check() error {
	if !(o.MaxDamagedShare >= 0 && o.MaxDamagedShare <= 1) {
		return fmt.Errorf("share of damaged records %g tolerated is not between 0 and 1", o.MaxDamagedShare)
	}
	if s := o.Separator; s != 0 && (s >= 127 || s < ' ' && s != '\t' || strings.ContainsRune("0123456789.+-\"", s)) {
		return fmt.Errorf("separator %q cannot separate numbers: use a comma, a semicolon, a tab or a space", s)
	}
	return nil
}

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

// Hashed is a log that is hashed already on its way here, say where it is kept as
// it comes. It is asked for the SHA-256 of its bytes when it was read to its end.
type Hashed interface {
	io.Reader
	SHA256() string
}
