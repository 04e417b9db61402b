package tune

import (
	"fmt"
	"strings"

	"strikerose/features"
)

// Group is a set of features that tell of one thing.
type Group struct {
	Name     string   `json:"name"`     // name of the group
	Doc      string   `json:"doc"`      // what its features tell of
	Features []string `json:"features"` // names of the features
}

// Ends of the contact and of the usual wait, ms after the onset.
const (
	contactToMs = 32
	usualToMs   = 65
)

// Groups parts features by what they tell of the strike; groups that would be
// empty are left out.
func Groups(names []string) []Group {
	all := []Group{
		{Name: "kick", Doc: "push across the bag during contact"},
		{Name: "tip", Doc: "rotation across the bag up to the end of contact"},
		{Name: "twist", Doc: "rotation about the bag's axis"},
		{Name: "vertical", Doc: "push along the bag"},
		{Name: "after contact", Doc: "what follows the contact, up to 65 ms"},
		{Name: "late", Doc: "what follows after 65 ms"},
		{Name: "before", Doc: "what the bag did before the onset"},
	}
	place := func(d features.Def) int {
		switch {
		case d.ToMs <= 0:
			return 6
		case d.ToMs > usualToMs:
			return 5
		case d.Odd:
			return 2
		case d.Name == "lift" || strings.HasPrefix(d.Name, "vertical"):
			return 3
		case d.ToMs > contactToMs:
			return 4
		case d.NeedsGyro:
			return 1
		}
		return 0
	}
	for _, n := range names {
		g := &all[place(features.DefOf(n))]
		g.Features = append(g.Features, n)
	}
	return filled(all)
}

// Parts is a finer division, for leaving features out: each kind of reading in
// each stretch of time, and single numbers by themselves.
func Parts(names []string) []Group {
	var all []Group
	at := map[string]int{}
	for _, n := range names {
		name, doc := part(features.DefOf(n))
		if _, known := at[name]; !known {
			at[name] = len(all)
			all = append(all, Group{Name: name, Doc: doc})
		}
		g := &all[at[name]]
		g.Features = append(g.Features, n)
	}
	return all
}

// part names the part that a feature belongs to.
func part(d features.Def) (name, doc string) {
	for _, kind := range []struct{ name, doc string }{
		{"accel", "horizontal specific force"}, {"rock", "rotation rate across the bag"},
		{"spin", "rotation rate about its axis"}, {"vertical", "vertical specific force"},
	} {
		if !strings.HasPrefix(d.Name, kind.name+"_") || d.Name == "vertical_ratio" {
			continue
		}
		when := "late"
		switch {
		case d.FromMs < -25:
			when = "earlier"
		case d.ToMs <= 0:
			when = "before"
		case d.ToMs <= contactToMs:
			when = "contact"
		case d.ToMs <= usualToMs:
			when = "after"
		}
		return kind.name + " " + when, fmt.Sprintf("%s, means %s", kind.doc, map[string]string{
			"earlier": "long before the onset", "before": "just before the onset", "contact": "during contact",
			"after": "after contact, up to 65 ms", "late": "after 65 ms",
		}[when])
	}
	return d.Name, d.Doc
}

func filled(all []Group) []Group {
	var out []Group
	for _, g := range all {
		if len(g.Features) > 0 {
			out = append(out, g)
		}
	}
	return out
}
