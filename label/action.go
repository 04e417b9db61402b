package label

import (
	"errors"
	"fmt"
	"slices"
)

// ErrNoSuchAction and ErrBuried are in the errors of Undo.
var (
	ErrNoSuchAction = errors.New("there is no such action to undo")
	ErrBuried       = errors.New("a later action stands on it")
)

// Take returns what must be appended to the journal that holds old for an
// action to stand: its claims, each superseding what the same author said by
// hand within 50 ms of it and nearer to it than to the action's other claims.
// Nothing is left to append where the whole action is in the journal already.
// Session, source, author, time, IDs and Supersedes are filled in.
func Take(old []Claim, o Origin, action string, says []Claim) ([]Claim, error) {
	if action == "" || len(says) == 0 {
		return nil, errors.New("label: an action needs an id and something to say")
	}
	before, done, err := apart(old, o, action)
	if err != nil {
		return nil, err
	}
	fresh := slices.Clone(says)
	for i := range fresh {
		fresh[i] = o.stamp(fresh[i])
		fresh[i].Action, fresh[i].Undoes, fresh[i].Supersedes = action, "", nil
	}
	for _, c := range Standing(before) {
		if c.Source != o.Source || c.Author != o.Author || !c.AboutStrike() {
			continue
		}
		nearest := 0
		for i := range fresh {
			if distance(fresh[i], c) < distance(fresh[nearest], c) {
				nearest = i
			}
		}
		if distance(fresh[nearest], c) <= matchNs {
			fresh[nearest].Supersedes = append(fresh[nearest].Supersedes, c.ID)
		}
	}
	return missing(fresh, done), nil
}

// Undo returns what must be appended for an earlier action of the same author
// to be taken back: what it superseded is claimed anew, and where there was
// nothing its claims are retracted. Several actions are undone from the last
// one backwards; one that a later action supersedes is refused (ErrBuried), as
// is one that is not there or undone already (ErrNoSuchAction).
func Undo(old []Claim, o Origin, action, undoes string) ([]Claim, error) {
	if action == "" || action == undoes {
		return nil, errors.New("label: an undo needs an id of its own")
	}
	before, done, err := apart(old, o, action)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(Actions(before, o.Author), func(a Action) bool { return a.ID == undoes && !a.Undone }) {
		return nil, fmt.Errorf("label: session %s: action %q of %q: %w", o.Session, undoes, o.Author, ErrNoSuchAction)
	}
	standing := make(map[string]bool)
	for _, c := range Standing(before) {
		standing[c.ID] = true
	}
	byID := make(map[string]Claim, len(before))
	for _, c := range before {
		byID[c.ID] = c
	}
	var taken []string // ids that go
	var returned []Claim
	for _, c := range before {
		if c.Action != undoes {
			continue
		}
		now := latestForm(before, c)
		if !standing[now.ID] {
			return nil, fmt.Errorf("label: session %s: action %q of %q: %w: undo that one first", o.Session, undoes, o.Author, ErrBuried)
		}
		taken = append(taken, now.ID)
		for _, id := range c.Supersedes {
			if earlier, ok := byID[id]; ok {
				returned = append(returned, earlier)
			}
		}
	}
	slices.Sort(taken)
	var fresh []Claim
	for _, c := range returned {
		c = o.stamp(c)
		c.Action, c.Undoes = action, undoes
		c.Supersedes = append(slices.Clone(taken), c.ID)
		slices.Sort(c.Supersedes)
		fresh = append(fresh, c)
	}
	if len(fresh) == 0 {
		r := Retraction(o, "", taken...)
		r.Action, r.Undoes = action, undoes
		fresh = append(fresh, r)
	}
	return missing(fresh, done), nil
}

// latestForm follows a claim that undoing later actions has claimed anew.
func latestForm(claims []Claim, c Claim) Claim {
	for {
		again := slices.IndexFunc(claims, func(d Claim) bool {
			return d.Undoes != "" && !d.Retract && slices.Contains(d.Supersedes, c.ID) && d.statement() == c.statement()
		})
		if again < 0 {
			return c
		}
		c = claims[again]
	}
}

// apart splits off the claims that an action has in the journal already. An id
// that somebody else has used is refused.
func apart(old []Claim, o Origin, action string) (before, done []Claim, err error) {
	for _, c := range old {
		switch {
		case c.Action != action:
			before = append(before, c)
		case c.Author != o.Author || c.Source != o.Source:
			return nil, nil, fmt.Errorf("label: session %s: the id %q belongs to an action of %q: make up another", o.Session, action, c.Author)
		default:
			done = append(done, c)
		}
	}
	return before, done, nil
}

// missing settles the IDs of claims and leaves out those that are done.
func missing(fresh, done []Claim) []Claim {
	var out []Claim
	for _, c := range fresh {
		if !slices.ContainsFunc(done, func(d Claim) bool { return d.statement() == c.statement() }) {
			c.ID = c.ContentID()
			out = append(out, c)
		}
	}
	return out
}

func distance(a, b Claim) int64 {
	if a.OnsetNs > b.OnsetNs {
		return a.OnsetNs - b.OnsetNs
	}
	return b.OnsetNs - a.OnsetNs
}

// Action is one action in a journal: what one person did at once by hand, one
// claim, or several for a double hit. Whoever acts makes up its id, so that an
// action that is sent again, because no answer came, is known again. All of its
// lines carry the id; where a torn end of the journal holds only some of them,
// taking the action again adds the others.
type Action struct {
	ID      string
	OnsetNs int64 // of its first claim
	Undone  bool
}

// Actions lists what an author did by hand, in the journal's order, without
// the undoing itself.
func Actions(claims []Claim, author string) []Action {
	var out []Action
	at := make(map[string]int)
	for _, c := range claims {
		if c.Source != Hand || c.Author != author || c.Action == "" {
			continue
		}
		if c.Undoes != "" {
			if i, ok := at[c.Undoes]; ok {
				out[i].Undone = true
			}
			continue
		}
		if _, ok := at[c.Action]; !ok {
			at[c.Action] = len(out)
			out = append(out, Action{ID: c.Action, OnsetNs: c.OnsetNs})
		}
	}
	return out
}
