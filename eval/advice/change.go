package advice

import (
	"context"
	"fmt"
	"strings"

	"strikerose/dataset/rig"
)

// Change is what differs between two rigs, or two revisions of one.
type Change struct {
	Version int     `json:"version"`
	Values  []Value `json:"values"` // that differ in the files, in their order
	Before  *Sheet  `json:"before"`
	After   *Sheet  `json:"after"`
}

// Value is one value that differs between two rig files.
type Value struct {
	Key    string `json:"key"` // as in the file: "bag.mass_kg"
	Before string `json:"before"`
	After  string `json:"after"`
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
