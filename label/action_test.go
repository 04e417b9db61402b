package label_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"strikerose/label"
)

func byHand(author string) label.Origin {
	return label.Origin{Session: "s", Source: label.Hand, Author: author, At: time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)}
}

// faces lists the standing claims as milliseconds:face.
func faces(claims []label.Claim, author string) []string {
	var out []string
	for _, c := range label.Standing(claims) {
		if c.Author == author {
			out = append(out, fmt.Sprintf("%d:%d", c.OnsetNs/1e6, c.Face))
		}
	}
	return out
}

func at(ms int64, face int) label.Claim { return label.Claim{OnsetNs: ms * 1e6, Face: face} }

func TestTakeAndUndo(t *testing.T) {
	var journal []label.Claim
	take := func(action string, says ...label.Claim) {
		t.Helper()
		fresh, err := label.Take(journal, byHand("ann"), action, says)
		if err != nil {
			t.Fatal(err)
		}
		journal = append(journal, fresh...)
	}
	undo := func(action, undoes string) {
		t.Helper()
		fresh, err := label.Undo(journal, byHand("ann"), action, undoes)
		if err != nil {
			t.Fatal(err)
		}
		journal = append(journal, fresh...)
	}
	stands := func(want ...string) {
		t.Helper()
		if diff := cmp.Diff(want, faces(journal, "ann")); diff != "" {
			t.Fatalf("standing (-want +got):\n%s", diff)
		}
	}
	take("a", at(1000, 1))
	stands("1000:1")
	take("b", at(1010, 2)) // a correction, onset moved
	stands("1010:2")
	take("c", at(1005, 2), at(1180, 3)) // split in two
	stands("1005:2", "1180:3")
	take("d", at(2000, 4))

	if _, err := label.Undo(journal, byHand("ann"), "x", "b"); !errors.Is(err, label.ErrBuried) {
		t.Errorf("undoing what was corrected since: %v", err)
	}
	undo("u1", "d")
	stands("1005:2", "1180:3")
	if _, err := label.Undo(journal, byHand("ann"), "x", "d"); !errors.Is(err, label.ErrNoSuchAction) {
		t.Errorf("undoing twice: %v", err)
	}
	if _, err := label.Undo(journal, byHand("ben"), "x", "c"); !errors.Is(err, label.ErrNoSuchAction) {
		t.Errorf("undoing what another did: %v", err)
	}
	undo("u2", "c")
	stands("1010:2")
	undo("u3", "b")
	stands("1000:1")
	take("e", at(1000, 5))
	undo("u4", "e")
	undo("u5", "a")
	stands()

	var left []string
	for _, a := range label.Actions(journal, "ann") {
		if !a.Undone {
			left = append(left, a.ID)
		}
	}
	if left != nil {
		t.Errorf("actions left: %v", left)
	}
	fresh, err := label.Take(journal, byHand("ben"), "f", []label.Claim{at(1000, 6)})
	if err != nil || len(fresh) != 1 || len(fresh[0].Supersedes) != 0 {
		t.Errorf("another author's claim: %+v, %v", fresh, err)
	}
	if _, err := label.Take(journal, byHand("ben"), "a", []label.Claim{at(1000, 6)}); err == nil {
		t.Error("an id that another used was taken")
	}
	for _, err := range []error{second(label.Take(nil, byHand("ann"), "", []label.Claim{at(1, 1)})),
		second(label.Take(nil, byHand("ann"), "a", nil)), second(label.Undo(journal, byHand("ann"), "a", "a"))} {
		if err == nil {
			t.Error("an action without id or content was taken")
		}
	}
}

func second(_ []label.Claim, err error) error { return err }

// Whatever was done, undoing all of it from the last on leaves what stood
// before, and each action that is sent twice adds nothing.
func TestUndoAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		journal, err := label.Take(nil, byHand("ben"), "ben", []label.Claim{at(1000, 1)})
		if err != nil {
			t.Fatal(err)
		}
		states := [][]string{faces(journal, "ann")}
		var done []string
		for k := range rapid.IntRange(1, 12).Draw(t, "steps") {
			id := fmt.Sprint("step", k)
			var fresh []label.Claim
			if len(done) > 0 && rapid.Bool().Draw(t, "undo") {
				last := done[len(done)-1]
				if fresh, err = label.Undo(journal, byHand("ann"), id, last); err != nil {
					t.Fatal(err)
				}
				journal = append(journal, fresh...)
				done, states = done[:len(done)-1], states[:len(states)-1]
				if diff := cmp.Diff(states[len(states)-1], faces(journal, "ann")); diff != "" {
					t.Fatalf("undoing %s (-want +got):\n%s", last, diff)
				}
				if again, err := label.Undo(journal, byHand("ann"), id, last); err != nil || len(again) > 0 {
					t.Fatalf("sent twice: %v, %v", again, err)
				}
				continue
			}
			ms := int64(rapid.IntRange(0, 4).Draw(t, "ms"))*40 + 1000
			says := []label.Claim{at(ms, rapid.IntRange(1, 6).Draw(t, "face"))}
			if rapid.Bool().Draw(t, "split") {
				says = append(says, at(ms+150, 2))
			}
			if fresh, err = label.Take(journal, byHand("ann"), id, says); err != nil {
				t.Fatal(err)
			}
			journal = append(journal, fresh...)
			done, states = append(done, id), append(states, faces(journal, "ann"))
			if again, err := label.Take(journal, byHand("ann"), id, says); err != nil || len(again) > 0 {
				t.Fatalf("sent twice: %v, %v", again, err)
			}
		}
		if got := faces(journal, "ben"); !slices.Equal(got, []string{"1000:1"}) {
			t.Fatalf("another author's claims: %v", got)
		}
	})
}

// A journal cut off anywhere inside an action holds, after the action is sent
// again, just what it would have held.
func TestTakeAfterTornLine(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "s.jsonl")
	j := label.OpenJournal(path)
	first, err := label.Take(nil, byHand("ann"), "a", []label.Claim{at(1000, 1)})
	if err != nil {
		t.Fatal(err)
	}
	says := []label.Claim{at(1004, 2), at(1150, 3)}
	split, err := label.Take(first, byHand("ann"), "b", says)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Append(t.Context(), first...); err != nil {
		t.Fatal(err)
	}
	start, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Append(t.Context(), split...); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for cut := len(start); cut < len(whole); cut++ {
		if err := os.WriteFile(path, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		log, err := j.Read(t.Context())
		if err != nil || log.Err() != nil {
			t.Fatalf("cut at %d: %v, %v", cut, err, log.Err())
		}
		fresh, err := label.Take(log.Claims, byHand("ann"), "b", says)
		if err != nil {
			t.Fatal(err)
		}
		if err := j.Append(t.Context(), fresh...); err != nil {
			t.Fatal(err)
		}
		log, err = j.Read(t.Context())
		if err != nil || log.Err() != nil {
			t.Fatalf("cut at %d, sent again: %v, %v", cut, err, log.Err())
		}
		if diff := cmp.Diff([]string{"1004:2", "1150:3"}, faces(log.Claims, "ann")); diff != "" {
			t.Fatalf("cut at %d, sent again (-want +got):\n%s", cut, diff)
		}
	}
}

// Lines without the fields of actions keep the ids that they were written with.
func TestActionsKeepOldIDs(t *testing.T) {
	c := label.Claim{Session: "s", OnsetNs: 5, Source: label.Hand, Author: "ann", Face: 2}
	if got, want := c.ContentID(), "1eaead1ddea71f89a9fd3f380a2665c6"; got != want {
		t.Errorf("id %s, want %s", got, want)
	}
}
