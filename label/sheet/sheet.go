// Package sheet carries labels as a table from one place to another: claims
// that were listed from a corpus, and strikes that somebody labelled by hand in
// a spreadsheet. It knows neither corpus nor journal.
//
// A row has at least session and onset_s, seconds from the session's first
// sample. What it says comes from one of two sources:
//
//   - the cell claim, the claim itself as JSON (see Text): every digit, time and
//     field of it. The other cells of the row were derived from it and must still
//     agree with it, so that a change in one of them is not lost unseen.
//   - without that cell, the cells face, bearing_deg, height_m, band, kind,
//     confidence, says (strike or no strike), pair, note and labeller: a claim by
//     hand. Empty cells and missing columns are what the labeller does not say.
//
// Columns by other names are left alone.
//
// Cells are written and read as they are, so that labels come back unchanged. A
// spreadsheet takes a cell that begins with =, +, - or @ for a formula: whoever
// opens a stranger's table there should import its columns as text.
package sheet

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/table"
)

// What a row says of its moment, in the column says.
const (
	Strike   = "strike"
	NoStrike = "no strike"
	Complete = "complete" // see label.Claim.Complete
)

// Says is what a claim says of its moment.
func Says(c label.Claim) string {
	switch {
	case c.Complete:
		return Complete
	case c.NotStrike:
		return NoStrike
	}
	return Strike
}

// portable is a claim without what only its journal gives a meaning to: the
// fields here hide those of the claim.
type portable struct {
	label.Claim
	ID         string   `json:"id,omitempty"`
	Session    string   `json:"session,omitempty"`
	Supersedes []string `json:"supersedes,omitempty"`
	Action     string   `json:"action,omitempty"`
	Undoes     string   `json:"undoes,omitempty"`
}

// Text writes a claim about a strike or a stretch as the cell claim: its JSON
// without id, session, what it supersedes and the action it was part of.
func Text(c label.Claim) (string, error) {
	data, err := json.Marshal(portable{Claim: c})
	return string(data), err
}

// Session is what a row is read against.
type Session struct {
	Rig       *rig.Rig
	DurationS float64
}

// Options of Read.
type Options struct {
	Labeller string // of rows by hand that name none
	Session  string // of rows that name none

	// Of finds a session by name; its error is the row's fault.
	Of func(name string) (Session, error)
}

// By how much cells that were derived from the cell claim may differ from it,
// as they are rounded.
const (
	roundedDeg   = 0.0051
	roundedM     = 0.000051
	roundedShare = 0.000051
	roundedNs    = 100_000
)

// maxSessions is how many sessions one table may speak of: each is looked for in
// the corpus.
const maxSessions = 10_000

// maxOnsetS keeps onsets far from the limit of nanoseconds: thirty years.
const maxOnsetS = 1e9

// Read reads claims in the order of their rows, with session, source and
// author. Those by hand bear no time of their own: they are made when they are
// taken in. All faults together are the error, each with line and column; with
// an error no claim is returned.
func Read(r io.Reader, name string, o Options) ([]label.Claim, error) {
	t, err := table.Read(r, name, "onset_s")
	if err != nil {
		return nil, fmt.Errorf("label: %w", err)
	}
	in := reader{Table: t, o: o, sessions: map[string]looked{}, said: map[moment]int{}}
	var out []label.Claim
	var labellers []labeller
	from := map[labeller][]strike{}
	complete := map[string][]stretch{} // by session
	for _, row := range t.Rows {
		c, ok := in.row(row)
		if !ok {
			continue
		}
		out = append(out, c)
		if c.AboutStrike() {
			who := labeller{c.Session, c.Source, c.Author}
			if from[who] == nil {
				labellers = append(labellers, who)
			}
			from[who] = append(from[who], strike{c.OnsetNs, row})
		} else {
			complete[c.Session] = append(complete[c.Session], stretch{c.OnsetNs, c.EndNs, row})
		}
	}
	for _, who := range labellers {
		in.crowded(who, from[who])
	}
	for _, session := range slices.Sorted(maps.Keys(complete)) {
		in.heaped(session, complete[session])
	}
	if err := t.Err(); err != nil {
		return nil, err
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("label: %s: it has a header but no labels", name)
	}
	return out, nil
}

// moment is what one labeller speaks of.
type moment struct {
	session, author string
	onsetNs         int64
}

// looked is a session that was looked for, or why it was not found: a table may
// name the same wrong one on every row.
type looked struct {
	Session
	err error
}

type reader struct {
	*table.Table
	o        Options
	sessions map[string]looked
	said     map[moment]int // line of a row by hand
}

// text is a row's cell by its column's name.
func (in *reader) text(row table.Row, column string) string { return row.Cell(in.Column(column)) }

func (in *reader) fault(row table.Row, column, format string, args ...any) {
	in.Fault(row, in.Column(column), format, args...)
}

// number reads a cell; nil where it is empty.
func (in *reader) number(row table.Row, column string) (x *float64, ok bool) {
	if in.text(row, column) == "" {
		return nil, true
	}
	v, ok := in.Float(row, in.Column(column))
	return &v, ok
}

// session is the name of the session that a row is about; "" where none is given.
func (in *reader) session(row table.Row) string { return cmp.Or(in.text(row, "session"), in.o.Session) }

// labeller is who or what says the rows about a session.
type labeller struct{ session, source, author string }

// strike is a moment that a row speaks of.
type strike struct {
	onsetNs int64
	row     table.Row
}

// mostTogether is how many strikes a labeller may tell of within label.MatchNs,
// many times as many as anybody strikes then: which of them is which of those in
// the journal takes time as the square of their number.
const mostTogether = 200

// crowded notes that a labeller says too much of one moment. However many labels
// there are of a session's strikes, by however many labellers, all are read.
func (in *reader) crowded(who labeller, said []strike) {
	slices.SortFunc(said, func(a, b strike) int { return cmp.Compare(a.onsetNs, b.onsetNs) })
	for i := mostTogether; i < len(said); i++ {
		if said[i].onsetNs-said[i-mostTogether].onsetNs <= label.MatchNs() {
			in.fault(said[i].row, "onset_s", "more than %d labels of %q, source %s, lie within %d ms in session %s: is onset_s in seconds?",
				mostTogether, who.author, who.source, label.MatchNs()/1e6, who.session)
			return
		}
	}
}

// stretch is what a row says to be complete, to the session's end where endNs is 0.
type stretch struct {
	fromNs, endNs int64
	row           table.Row
}

// mostComplete is how many rows may say of one moment that what they do not list
// was no strike, many times as many as anybody has: each of them is a rival about
// every strike there.
const mostComplete = 200

// heaped notes that too many rows call one moment of a session complete.
func (in *reader) heaped(session string, said []stretch) {
	slices.SortStableFunc(said, func(a, b stretch) int { return cmp.Compare(a.fromNs, b.fromNs) })
	var ends []int64
	for _, s := range said {
		if s.endNs != 0 {
			ends = append(ends, s.endNs)
		}
	}
	slices.Sort(ends)
	over := 0
	for i, s := range said {
		for over < len(ends) && ends[over] < s.fromNs {
			over++
		}
		if i+1-over > mostComplete {
			in.fault(s.row, "claim", "more than %d labels say of one moment of session %s that it is complete: keep one of each labeller", mostComplete, session)
			return
		}
	}
}

// row reads one row; what is wrong with it is noted.
func (in *reader) row(row table.Row) (label.Claim, bool) {
	name := in.session(row)
	if name == "" {
		in.fault(row, "session", "it names no session: fill in the column session, or name one for all rows")
		return label.Claim{}, false
	}
	s, known := in.sessions[name]
	if !known {
		if len(in.sessions) == maxSessions {
			in.fault(row, "session", "session %q is one more than the %d that a table can speak of: split it", name, maxSessions)
			return label.Claim{}, false
		}
		s.Session, s.err = in.o.Of(name)
		in.sessions[name] = s
	}
	if s.err != nil {
		in.fault(row, "session", "%v", s.err)
		return label.Claim{}, false
	}
	onsetS, ok := in.Float(row, in.Column("onset_s"))
	if !ok {
		return label.Claim{}, false
	}
	if math.Abs(onsetS) > maxOnsetS {
		in.fault(row, "onset_s", "onset_s %g is no time in a session: give seconds from its first sample", onsetS)
		return label.Claim{}, false
	}
	onsetNs := int64(math.Round(onsetS * 1e9))
	var c label.Claim
	if in.text(row, "claim") != "" {
		c, ok = in.claim(row, onsetNs, s.Rig)
	} else {
		c, ok = in.hand(row, name, onsetNs, s.Session)
	}
	c.Session = name
	return c, ok
}

// claim reads the cell claim and holds the row's other cells against it.
func (in *reader) claim(row table.Row, onsetNs int64, r *rig.Rig) (label.Claim, bool) {
	const remedy = "take the cell from label list --all, or empty it for the other cells to count"
	text := in.text(row, "claim")
	var p portable
	dec := json.NewDecoder(strings.NewReader(text))
	dec.DisallowUnknownFields()
	err := dec.Decode(&p)
	if err == nil {
		if _, more := dec.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("something follows it")
		}
	}
	c := p.Claim
	switch {
	case err != nil:
	case !utf8.ValidString(text):
		err = errors.New("it is not valid UTF-8")
	case p.ID != "" || p.Session != "" || p.Supersedes != nil || p.Action != "" || p.Undoes != "" || c.Retract:
		err = errors.New("it holds what only a journal may")
	default:
		c.Session = "any"
		err = c.Validate()
	}
	if err != nil {
		in.fault(row, "claim", "not a claim: %v: %s", err, remedy)
		return c, false
	}
	differs := func(column string) (label.Claim, bool) {
		in.fault(row, column, "%s %q is not what the row's claim says: correct one of the two, or empty the cell claim for the others to count", column, in.text(row, column))
		return c, false
	}
	if off := onsetNs - c.OnsetNs; off > label.MatchNs()+roundedNs || off < -label.MatchNs()-roundedNs {
		return differs("onset_s")
	}
	place := c.PlaceOn(r)
	face := ""
	if place.Face > 0 {
		face = fmt.Sprint(place.Face)
	}
	for _, q := range []struct{ column, want string }{
		{"source", c.Source}, {"face", face}, {"band", place.Band}, {"kind", c.Kind},
		{"labeller", c.Author}, {"says", Says(c)}, {"note", c.Note}, {"pair", c.Pair},
	} {
		if in.Column(q.column) >= 0 && flat(in.text(row, q.column)) != flat(q.want) {
			return differs(q.column)
		}
	}
	for _, q := range []struct {
		column string
		want   float64
		apart  func(a, b float64) float64
		within float64
	}{
		{"bearing_deg", place.BearingDeg, bearing.Diff, roundedDeg},
		{"height_m", place.HeightM, minus, roundedM},
		{"confidence", c.Confidence, minus, roundedShare},
	} {
		got, ok := in.number(row, q.column)
		if !ok {
			return c, false
		}
		if in.Column(q.column) >= 0 && ((got == nil) != math.IsNaN(q.want) || got != nil && math.Abs(q.apart(*got, q.want)) > q.within) {
			return differs(q.column)
		}
	}
	return c, true
}

func minus(a, b float64) float64 { return a - b }

// flat is a text as a table may bring it back: without blanks around it and
// with line ends of one kind.
func flat(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\r\n", "\n")) }

// hand reads what a row says by itself.
func (in *reader) hand(row table.Row, session string, onsetNs int64, s Session) (label.Claim, bool) {
	c := label.Claim{OnsetNs: onsetNs, Source: label.Hand, Author: in.text(row, "labeller"), Band: strings.ToLower(in.text(row, "band")),
		Pair: in.text(row, "pair"), Note: in.text(row, "note")}
	ok := true
	bad := func(column, format string, args ...any) {
		in.fault(row, column, format, args...)
		ok = false
	}
	if c.Author == "" {
		c.Author = in.o.Labeller
	}
	if source := in.text(row, "source"); source != "" && source != label.Hand {
		bad("source", "a label of source %q needs its claim, as label list --all writes it; without one a row is a label by hand (label plan and label truth take plans and timed truth)", source)
	}
	if c.Author == "" {
		bad("labeller", "it does not say whose label it is: fill in the column labeller, or give --labeller")
	}
	if onsetNs < 0 || float64(onsetNs) > s.DurationS*1e9 {
		bad("onset_s", "onset_s %s is not in session %s, which is %.3f s long", in.text(row, "onset_s"), session, s.DurationS)
	}
	if in.text(row, "face") != "" {
		n, whole := in.Int(row, in.Column("face"))
		c.Face, ok = n, ok && whole
		if whole && (n < 1 || n > s.Rig.Faces) {
			bad("face", "face %d is not on rig %s, which has faces 1 to %d", n, s.Rig.Key(), s.Rig.Faces)
		}
	}
	for _, q := range []struct {
		column   string
		into     **float64
		from, to float64
		what     string
	}{
		{"bearing_deg", &c.BearingDeg, -360, 360, "between -360 and 360 degrees"},
		{"height_m", &c.HeightM, 0, s.Rig.Bag.LengthM, fmt.Sprintf("on the bag, which is %g m long", s.Rig.Bag.LengthM)},
	} {
		x, fine := in.number(row, q.column)
		ok = ok && fine
		if fine && x != nil {
			if *x < q.from || *x > q.to {
				bad(q.column, "%s %g is not %s", q.column, *x, q.what)
			}
			*q.into = x
		}
	}
	if c.BearingDeg != nil {
		*c.BearingDeg = bearing.Wrap360(*c.BearingDeg)
	}
	if _, _, has := s.Rig.BandRange(c.Band); c.Band != "" && !has {
		bad("band", "band %q is not on rig %s", in.text(row, "band"), s.Rig.Key())
	}
	if text := in.text(row, "kind"); text != "" {
		kind, known := label.ParseKind(text)
		if c.Kind = kind; !known {
			bad("kind", "kind %q is unknown: use one of %s", text, strings.Join(label.Kinds(), ", "))
		}
	}
	if x, fine := in.number(row, "confidence"); !fine {
		ok = false
	} else if x != nil {
		if c.Confidence = *x; *x < 0 || *x > 1 {
			bad("confidence", "confidence %g is not between 0 and 1", *x)
		}
	}
	if !slices.Contains([]string{"", "one", "two"}, c.Pair) {
		bad("pair", "pair %q is unknown: use one or two, for a double hit", c.Pair)
	}
	switch says := strings.ToLower(in.text(row, "says")); says {
	case "", Strike:
	case NoStrike:
		c.NotStrike = true
		if c.Face != 0 || c.BearingDeg != nil || c.HeightM != nil || c.Band != "" || c.Kind != "" {
			bad("says", "what is no strike has no place and no kind: empty those cells")
		}
	default:
		bad("says", "says %q is unknown: use %q or %q", says, Strike, NoStrike)
	}
	if c.BearingDeg != nil && c.Face != 0 && s.Rig.FaceOf(*c.BearingDeg) != c.Face {
		bad("face", "face %d is not the one of bearing_deg %g, face %d: empty one of the two cells", c.Face, *c.BearingDeg, s.Rig.FaceOf(*c.BearingDeg))
	}
	at := moment{session, c.Author, onsetNs}
	if line, twice := in.said[at]; twice {
		bad("onset_s", "line %d speaks of the same moment: keep one of the two", line)
	}
	in.said[at] = row.Line()
	for _, text := range []string{c.Author, c.Band, c.Note} {
		if !utf8.ValidString(text) {
			bad("onset_s", "the row is not valid UTF-8: save the table as CSV in UTF-8")
		}
	}
	return c, ok
}
