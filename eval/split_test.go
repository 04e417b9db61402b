package eval

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawItems makes up strikes of sessions, each with one striker and one
// revision of one rig.
func drawItems(t *rapid.T) []Item {
	var items []Item
	for s := range rapid.IntRange(2, 8).Draw(t, "sessions") {
		rig := fmt.Sprintf("rig%d", rapid.IntRange(0, 2).Draw(t, "rig"))
		it := Item{
			Session:  fmt.Sprintf("s%d", s),
			Striker:  fmt.Sprintf("p%d", rapid.IntRange(0, 3).Draw(t, "striker")),
			Rig:      rig,
			Revision: fmt.Sprintf("%s-r%d", rig, rapid.IntRange(1, 2).Draw(t, "revision")),
		}
		for range rapid.IntRange(1, 12).Draw(t, "strikes") {
			items = append(items, it)
		}
	}
	return rapid.Permutation(items).Draw(t, "order")
}

// checkSplits fails unless each item is tested once, nothing is on both sides,
// and no session (or group) is.
func checkSplits(t *rapid.T, items []Item, splits []Split, group func(Item) string, all bool) {
	tested := make([]int, len(items))
	for _, s := range splits {
		side := map[string]string{}
		if len(s.Train) == 0 || len(s.Test) == 0 {
			t.Fatalf("split %s: %d in training, %d in test", s.Left, len(s.Train), len(s.Test))
		}
		if all && len(s.Train)+len(s.Test) != len(items) {
			t.Fatalf("split %s holds %d of %d items", s.Left, len(s.Train)+len(s.Test), len(items))
		}
		for name, part := range map[string][]int{"train": s.Train, "test": s.Test} {
			for _, i := range part {
				for _, key := range []string{"session " + items[i].Session, "group " + group(items[i])} {
					if side[key] != "" && side[key] != name {
						t.Fatalf("split %s: %s is on both sides", s.Left, key)
					}
					side[key] = name
				}
			}
		}
		for _, i := range s.Test {
			tested[i]++
		}
	}
	for i, n := range tested {
		if n != 1 {
			t.Fatalf("item %d is tested %d times", i, n)
		}
	}
}

func TestLeaveProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := drawItems(t)
		kind := rapid.SampledFrom(Leaves()).Draw(t, "kind")
		of, err := groupOf(kind)
		if err != nil {
			t.Fatal(err)
		}
		groups := map[string]bool{}
		for _, it := range items {
			groups[of(it)] = true
		}
		splits, err := Leave(items, kind)
		if len(groups) < 2 {
			if err == nil {
				t.Fatalf("one %s, yet no error", kind)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if len(splits) != len(groups) {
			t.Fatalf("%d splits of %d groups", len(splits), len(groups))
		}
		checkSplits(t, items, splits, of, true)
	})
}

func TestFoldsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := drawItems(t)
		k := rapid.IntRange(1, 10).Draw(t, "k")
		splits, err := Folds(items, k)
		if err != nil {
			t.Fatal(err)
		}
		sessions := map[string]bool{}
		for _, it := range items {
			sessions[it.Session] = true
		}
		if want := max(2, min(k, len(sessions))); len(splits) != want {
			t.Fatalf("%d folds, want %d", len(splits), want)
		}
		checkSplits(t, items, splits, func(it Item) string { return it.Session }, true)
	})
}

func TestLeaveRefuses(t *testing.T) {
	a := Item{Session: "s1", Striker: "p", Rig: "shed", Revision: "shed-r1"}
	b := Item{Session: "s2", Rig: "shed", Revision: "shed-r1"}
	moved := Item{Session: "s1", Striker: "q", Rig: "shed", Revision: "shed-r1"}
	for _, c := range []struct {
		items []Item
		kind  string
		want  string
	}{
		{nil, LeaveSession, "there is none"},
		{[]Item{a}, LeaveSession, "there is only s1: import and label another session"},
		{[]Item{a, a}, LeaveRig, "there is only shed"},
		{[]Item{a, b}, LeaveStriker, "session s2 has no striker"},
		{[]Item{a, moved}, LeaveStriker, "session s1 belongs to both p and q"},
		{[]Item{a, b}, "row", "give one of"},
	} {
		_, err := Leave(c.items, c.kind)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Leave(%v, %s): error %v, want one with %q", c.items, c.kind, err, c.want)
		}
	}
}

func TestResamplingUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sessions := rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b", "c", "d", "e", "f", "g", "h", "i"}), 1, 200).Draw(t, "sessions")
		slices.Sort(sessions)
		unit, units, kind := resamplingUnits(sessions)
		size := make([]int, units)
		owner := map[int]string{}
		for i, u := range unit {
			size[u]++
			if owner[u] != "" && owner[u] != sessions[i] {
				t.Fatalf("unit %d holds strikes of %s and %s", u, owner[u], sessions[i])
			}
			owner[u] = sessions[i]
		}
		distinct := len(slices.Compact(slices.Clone(sessions)))
		if (kind == UnitSession) != (distinct >= MinSessions) {
			t.Fatalf("%d sessions: unit %s", distinct, kind)
		}
		for u, n := range size {
			if n == 0 || kind == UnitBlock && n > 15 {
				t.Fatalf("unit %d has %d strikes", u, n)
			}
		}
		if kind == UnitBlock && !slices.IsSorted(unit) {
			t.Fatal("blocks are not runs of consecutive strikes")
		}
	})
}
