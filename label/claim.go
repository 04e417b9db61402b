// Package label holds what people, plans and instruments say about strikes.
//
// A label is a claim by somebody or something, with its source, its author,
// its own uncertainty and what it supersedes. Claims are never changed: a
// correction is a further claim that supersedes the earlier one, and an undo
// is a claim that supersedes without replacing. A claim is tied to a session
// and a time, not to the number of a found strike, so that finding strikes
// again keeps every label. The package keeps claims in a journal, works out
// which of them stand, and matches those with found strikes. It refuses
// claims with an unknown source or kind and numbers that are not finite.
//
// It sits above dataset and beside features and models, which must not import
// it: a feature that can see labels leaks.
//
// # Journal
//
// The journal of a session is a file of JSON Lines, UTF-8, one claim a line,
// only ever appended to. Each line is an object with
//
//	v           1, the version of the line format
//	id          first 32 hexadecimal digits of a SHA-256, see ContentID
//	session     name of the session when the claim was made
//	onset_ns    repaired clock, nanoseconds since the session's first sample
//	source      plan, hand or timed
//	at          when the claim was made, RFC 3339
//	...         the other fields of Claim, left out where they are empty
//
// A line counts when it parses, is of a known version, has no unknown fields
// and its id fits its content. A repeated id counts once. A last line that is
// cut short was never acknowledged: it is reported and left out. The next
// append closes it with the line {"v":1,"closes":"torn"}, which marks the
// line before it as torn. Any other line that does not count is damage,
// reported with its number.
package label

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Sources of claims, in rising order of trust.
const (
	Plan  = "plan"  // an ordered plan, aligned with the found strikes
	Hand  = "hand"  // a person who looked at the signal or remembers
	Timed = "timed" // truth with times from another instrument
)

// Best prefers, strike by strike, timed truth before hand before plan.
const Best = "best"

// OfTruth names in words a label that a truth accepts: of Best any will do.
func OfTruth(truth string) string {
	if truth == Best {
		return "label"
	}
	return "label of truth " + truth
}

// Kinds lists the kinds of strike.
func Kinds() []string { return []string{"straight", "hook", "uppercut", "tap"} }

// ParseKind reads a kind, in any case and with blanks around it; "upward" is
// another word for an uppercut.
func ParseKind(s string) (kind string, ok bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	if s == "upward" {
		s = "uppercut"
	}
	return s, slices.Contains(Kinds(), s)
}

// Claim is one statement about one strike, or about a stretch of the session
// (Complete), or about other claims (Retract). What a source does not know is
// left empty.
type Claim struct {
	ID      string    `json:"id"`
	Session string    `json:"session"`
	OnsetNs int64     `json:"onset_ns"`
	EndNs   int64     `json:"end_ns,omitempty"` // of Complete alone: the stretch from OnsetNs to here; 0 is the session's end
	Source  string    `json:"source"`
	Author  string    `json:"author,omitempty"`
	At      time.Time `json:"at"`

	Face         int      `json:"face,omitempty"`
	BearingDeg   *float64 `json:"bearing_deg,omitempty"`
	HeightM      *float64 `json:"height_m,omitempty"`
	Band         string   `json:"band,omitempty"`
	Kind         string   `json:"kind,omitempty"`
	Confidence   float64  `json:"confidence,omitempty"`     // 0 to 1, that the claim belongs to this strike; 0 is not stated
	BearingSDDeg float64  `json:"bearing_sd_deg,omitempty"` // of the bearing that the claim stands for; 0 is not stated
	HeightSDM    float64  `json:"height_sd_m,omitempty"`

	NotStrike bool `json:"not_strike,omitempty"` // what was found here was no strike
	Complete  bool `json:"complete,omitempty"`   // about a stretch of the session: what this source and author do not list there was no strike
	Retract   bool `json:"retract,omitempty"`    // supersedes without replacing: an undo

	Supersedes []string `json:"supersedes,omitempty"` // IDs of earlier claims
	PlanOrder  int      `json:"plan_order,omitempty"` // entry of the plan
	Pair       string   `json:"pair,omitempty"`       // one or two of a double hit
	Note       string   `json:"note,omitempty"`

	Action string `json:"action,omitempty"` // what was done by hand, made up by who did it: see Take
	Undoes string `json:"undoes,omitempty"` // the earlier action that this one takes back
}

// AboutStrike tells whether the claim is about a moment, rather than about
// the session or other claims.
func (c Claim) AboutStrike() bool { return !c.Complete && !c.Retract }

// maker is who or what makes claims.
type maker struct{ source, author string }

func (c Claim) maker() maker { return maker{c.Source, c.Author} }

// ContentID works out the ID that fits a claim's content: the start of a hash
// over everything but ID and At. The same statement made twice has the same
// ID, whenever it was made. (New fields of Claim must be left out of the JSON
// where empty, or the IDs of old journals would no longer fit.)
func (c Claim) ContentID() string {
	c.ID, c.At = "", time.Time{}
	return hash(c)
}

// statement identifies what is said, whatever it supersedes, in whatever
// action it was said and whatever the session is called now.
func (c Claim) statement() string {
	c.ID, c.At, c.Session, c.Supersedes, c.Action, c.Undoes = "", time.Time{}, "", nil, "", ""
	return hash(c)
}

func hash(c Claim) string {
	data, err := json.Marshal(c)
	if err != nil { // numbers that are not finite: such a claim has no ID and cannot be kept
		return ""
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:16])
}

// Validate tells what is wrong with a claim, nil if it can be kept.
func (c Claim) Validate() error {
	at := fmt.Sprintf("claim of session %q at %.3f s", c.Session, float64(c.OnsetNs)/1e9)
	for _, f := range []struct {
		name  string
		value float64
	}{
		{"bearing", deref(c.BearingDeg)}, {"height", deref(c.HeightM)}, {"confidence", c.Confidence},
		{"bearing's standard deviation", c.BearingSDDeg}, {"height's standard deviation", c.HeightSDM},
	} {
		if math.IsNaN(f.value) || math.IsInf(f.value, 0) {
			return fmt.Errorf("%s: its %s is not a finite number: leave it out where it is not known", at, f.name)
		}
	}
	for _, text := range append([]string{c.Session, c.Author, c.Band, c.Pair, c.Note, c.Action, c.Undoes}, c.Supersedes...) {
		if !utf8.ValidString(text) {
			return fmt.Errorf("%s: %q is not valid UTF-8: convert it", at, text)
		}
	}
	switch {
	case c.Session == "":
		return fmt.Errorf("%s: it names no session", at)
	case c.Source != Plan && c.Source != Hand && c.Source != Timed:
		return fmt.Errorf("%s: unknown source %q: use %s, %s or %s", at, c.Source, Plan, Hand, Timed)
	case c.At.IsZero() || c.At.Year() < 1 || c.At.Year() > 9999:
		return fmt.Errorf("%s: it does not say when it was made", at)
	case c.Kind != "" && !slices.Contains(Kinds(), c.Kind):
		return fmt.Errorf("%s: unknown kind %q: use one of %s", at, c.Kind, strings.Join(Kinds(), ", "))
	case c.Confidence < 0 || c.Confidence > 1:
		return fmt.Errorf("%s: confidence %g is not between 0 and 1", at, c.Confidence)
	case c.BearingSDDeg < 0 || c.HeightSDM < 0:
		return fmt.Errorf("%s: a standard deviation is below 0", at)
	case c.Face < 0:
		return fmt.Errorf("%s: face %d is below 1: leave it out where it is not known", at, c.Face)
	case c.EndNs != 0 && (!c.Complete || c.EndNs < c.OnsetNs):
		return fmt.Errorf("%s: only a complete stretch has an end, and not before its start", at)
	case c.Undoes != "" && c.Action == "":
		return fmt.Errorf("%s: it undoes %q without being an action", at, c.Undoes)
	case c.Retract && len(c.Supersedes) == 0:
		return fmt.Errorf("%s: a retraction must name what it supersedes", at)
	}
	return nil
}

func deref(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}
