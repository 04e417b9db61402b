package advice

import (
	"context"
	"fmt"
	"strings"

	"strikerose/dataset/rig"
)

// Change is what differs between two rigs, or two revisions of one.
type Change struct {
	Version int     `json:"version"` // version of this format: raised when a name changes its meaning, not when one is added
	Values  []Value `json:"values"`  // values that differ in the files, in their order
	Before  *Sheet  `json:"before"`  // the first rig; never null
	After   *Sheet  `json:"after"`   // the second rig; never null
}

// Value is one value that differs between two rig files.
type Value struct {
	Key    string `json:"key"`    // name in the file, such as "bag.mass_kg"
	Before string `json:"before"` // value in the first file, as text; empty where it has none
	After  string `json:"after"`  // value in the second file, as text; empty where it has none
}

// Between returns what changes from one valid rig to another.
func Between(ctx context.Context, before, after *rig.Rig, o Options) (*Change, error) {
	c := &Change{Version: Version, Values: []Value{}}
	for _, d := range rig.Diff(before, after) {
		v := Value{d.Key, d.A, d.B}
		if d.Key == "bands" {
			v.Before, v.After = bandsText(before), bandsText(after)
		}
		c.Values = append(c.Values, v)
	}
	var err error
	if c.Before, err = Of(ctx, before, o); err != nil {
		return nil, err
	}
	if c.After, err = Of(ctx, after, o); err != nil {
		return nil, err
	}
	return c, nil
}

// bandsText writes a rig's bands for people.
func bandsText(r *rig.Rig) string {
	var parts []string
	for i, b := range r.Bands {
		part := b.Name
		if i < len(r.Bands)-1 {
			part += fmt.Sprintf(" to %g m", b.ToM)
		}
		parts = append(parts, part)
	}
	return strings.Join(parts, ", ")
}
