// Package label holds what people, plans and instruments say about strikes.
//
// A label is a claim by somebody or something, with its source, its author,
// its own uncertainty and what it supersedes. Claims are never changed: a
// correction is a further claim that supersedes the earlier one, and an undo
// is a claim that supersedes without replacing. A claim is tied to a session
// and a time, not to the number of a found strike, so that finding strikes
// again keeps every label.
//
// The package sits above dataset and beside features and models, which must
// not import it: a feature that can see labels leaks.
//
// # Journal
//
// The journal of a session is a file of JSON Lines, UTF-8, one claim a line,
// only ever appended to. Each line is an object with
//
//	v           1, the version of the line format
//	id          first 32 hexadecimal digits of the SHA-256 of the claim's content
//	session     name of the session
//	at          when the claim was made, RFC 3339
//	source      plan, hand or timed
//	...         the other fields of Claim, left out where they are empty
//
// A line counts when it parses, is of a known version, has no unknown fields
// and its id fits its content. A last line that is cut short was never
// acknowledged: it is reported and left out. The next append closes it with
// the line {"v":1,"closes":"torn"}, which marks the line before it as torn.
// Any other line that does not count is damage, reported with its number.
package label

import (
	"time"

	"strikerose/dataset/rig"
)

// Sources of claims, in rising order of trust.
const (
	Plan  = "plan"  // an ordered plan, aligned with the found strikes
	Hand  = "hand"  // a person who looked at the signal or remembers
	Timed = "timed" // truth with times from another instrument
)

// Prefer values beside the three sources.
const Best = "best" // timed before hand before plan

// Aim scatter of a strike that was aimed at the middle of a face and band.
// Common practice, no source.
const (
	AimSDDeg = 8.0
	AimSDM   = 0.04
)

// Claim is one statement about one strike, or about a whole session
// (Complete, Retract). Fields that a source does not know are left empty.
type Claim struct {
	ID      string    `json:"id"`
	Session string    `json:"session"`
	OnsetNs int64     `json:"onset_ns"` // repaired clock, nanoseconds since the session's first sample
	Source  string    `json:"source"`
	Author  string    `json:"author,omitempty"`
	At      time.Time `json:"at"`

	Face         int      `json:"face,omitempty"`
	BearingDeg   *float64 `json:"bearing_deg,omitempty"`
	HeightM      *float64 `json:"height_m,omitempty"`
	Band         string   `json:"band,omitempty"`
	Kind         string   `json:"kind,omitempty"`
	Confidence   float64  `json:"confidence,omitempty"`     // 0 to 1, that this claim belongs to this strike
	BearingSDDeg float64  `json:"bearing_sd_deg,omitempty"` // of the bearing that the claim stands for
	HeightSDM    float64  `json:"height_sd_m,omitempty"`

	NotStrike bool `json:"not_strike,omitempty"` // what was found here was no strike
	Complete  bool `json:"complete,omitempty"`   // about the session: what this source and author do not list was no strike
	Retract   bool `json:"retract,omitempty"`    // supersedes without replacing: an undo

	Supersedes []string `json:"supersedes,omitempty"`
	PlanOrder  int      `json:"plan_order,omitempty"` // entry of the plan
	Pair       string   `json:"pair,omitempty"`       // one or two of a double hit
	Note       string   `json:"note,omitempty"`
}

// AboutStrike tells whether the claim is about a moment, rather than about
// the session or other claims.
func (c Claim) AboutStrike() bool { return !c.Complete && !c.Retract }

// Place is where a claim says that a strike landed, with standard deviations.
type Place struct {
	Face                    int
	Band                    string
	BearingDeg, HeightM     float64 // NaN where the claim gives none
	BearingSDDeg, HeightSDM float64
}

// PlaceOn works out where a claim says that the strike landed on a rig. A
// claim that gives only face or band stands for the face's centre and the
// band's middle; one that gives bearing or height has its face and band
// worked out from them.
func (c Claim) PlaceOn(r *rig.Rig) Place { return placeOn(c, r) }
