package eval

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
)

// Item is what a split needs to know of one strike.
type Item struct {
	Session  string
	Striker  string
	Rig      string // name, shared by all revisions
	Revision string // key NAME-rREV
}

// Split is one way to part items into training and test, by position.
type Split struct {
	Left  string // the group that is left out and tested
	Train []int
	Test  []int
}

// Leaves lists what a split can leave out at a time.
func Leaves() []string { return []string{LeaveSession, LeaveStriker, LeaveRig, LeaveRevision} }

// groupOf returns how an item is grouped for a kind of split.
func groupOf(kind string) (func(Item) string, error) {
	switch kind {
	case LeaveSession:
		return func(it Item) string { return it.Session }, nil
	case LeaveStriker:
		return func(it Item) string { return it.Striker }, nil
	case LeaveRig:
		return func(it Item) string { return it.Rig }, nil
	case LeaveRevision:
		return func(it Item) string { return it.Revision }, nil
	}
	return nil, fmt.Errorf("leave %q: unknown: give one of %s", kind, strings.Join(Leaves(), ", "))
}

// Leave parts items so that each group (session, striker, rig or revision) is
// tested once by what was trained on all others. Every item is in exactly one
// test set; a session is never on both sides. The splits are in order of the
// group's name. It is an error to have fewer than two groups, an item without
// a group, or a session that belongs to two.
func Leave(items []Item, kind string) ([]Split, error) {
	of, err := groupOf(kind)
	if err != nil {
		return nil, err
	}
	sessionGroup := map[string]string{}
	members := map[string][]int{}
	for i, it := range items {
		g := of(it)
		if g == "" {
			return nil, fmt.Errorf("leave %s: session %s has no %s: name it with \"strikerose session set\", or leave out sessions instead", kind, it.Session, kind)
		}
		if seen, ok := sessionGroup[it.Session]; ok && seen != g {
			return nil, fmt.Errorf("leave %s: session %s belongs to both %s and %s: a session has one %s", kind, it.Session, seen, g, kind)
		}
		sessionGroup[it.Session] = g
		members[g] = append(members[g], i)
	}
	names := sortedKeys(members)
	if len(names) < 2 {
		return nil, fewGroups(kind, names)
	}
	splits := make([]Split, len(names))
	for k, name := range names {
		splits[k] = Split{Left: name, Test: members[name]}
		for i, it := range items {
			if of(it) != name {
				splits[k].Train = append(splits[k].Train, i)
			}
		}
	}
	return splits, nil
}

func fewGroups(kind string, names []string) error {
	there := "there is none"
	if len(names) == 1 {
		there = "there is only " + names[0]
	}
	remedy := map[string]string{
		LeaveSession:  "import and label another session",
		LeaveStriker:  "import a session of another striker (\"import --striker\"), or leave out sessions instead",
		LeaveRig:      "import sessions of another rig, or leave out sessions instead",
		LeaveRevision: "import sessions of another revision of the rig, or leave out sessions instead",
	}[kind]
	return fmt.Errorf("leave %s: at least two %ss with labels are needed, %s: %s", kind, kind, there, remedy)
}

// Folds parts items into at most k folds of whole sessions, the largest
// sessions dealt first to the smallest fold. Fewer than two sessions are an
// error.
func Folds(items []Item, k int) ([]Split, error) {
	size := map[string]int{}
	for _, it := range items {
		size[it.Session]++
	}
	names := sortedKeys(size)
	if len(names) < 2 {
		return nil, fewGroups(LeaveSession, names)
	}
	k = max(2, min(k, len(names)))
	sort.SliceStable(names, func(a, b int) bool { return size[names[a]] > size[names[b]] })
	fold := map[string]int{}
	load := make([]int, k)
	for _, name := range names {
		least := slices.Index(load, slices.Min(load))
		fold[name] = least
		load[least] += size[name]
	}
	splits := make([]Split, k)
	for f := range splits {
		splits[f].Left = fmt.Sprintf("fold %d", f+1)
		for i, it := range items {
			if fold[it.Session] == f {
				splits[f].Test = append(splits[f].Test, i)
			} else {
				splits[f].Train = append(splits[f].Train, i)
			}
		}
	}
	return splits, nil
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
