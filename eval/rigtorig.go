package eval

import (
	"context"
	"slices"

	"strikerose/models"
)

// LeftRig is a rig that was left out with all its revisions, and the figures of
// every detector on it that was trained on all other rigs.
type LeftRig struct {
	Rig       string   `json:"left_out"`   // name of the rig
	TrainedOn []string `json:"trained_on"` // names of the rigs trained on
	Group     Group    `json:"group"`      // figures of every detector on its strikes
}

// RigToRig leaves each rig out in turn, with all its revisions, trains every family
// on the sessions of all others and scores it there. It is an error when there are
// fewer than two rigs; a family that cannot be fitted is skipped where that is so.
func RigToRig(ctx context.Context, d *Data, families []models.Family, o Options) ([]LeftRig, []Skip, error) {
	o = o.withDefaults()
	o.Leave = LeaveRig
	folds, _, err := foldsByRig(d, LeaveRig)
	if err != nil {
		return nil, nil, err
	}
	var c Comparison
	for _, f := range families {
		c.Detectors = append(c.Detectors, DetectorDoc{Name: f.Name, Kind: f.Kind})
	}
	run, err := runFolds(ctx, d.Cases, folds, families, o)
	if err != nil {
		return nil, nil, err
	}
	c.collect(d, folds, families, run)
	for _, m := range c.groups() {
		if m.Rig != "" && m.Band == "" && m.Kind == "" {
			c.Groups = append(c.Groups, c.measure(m, o))
		}
	}
	return leftRigs(c.Groups, d, folds), run.skipped, nil
}

// leftRigs puts to the groups of rigs what was trained on where they were left out.
func leftRigs(groups []Group, d *Data, folds []Split) []LeftRig {
	var out []LeftRig
	for _, g := range groups {
		at := slices.IndexFunc(folds, func(s Split) bool { return s.Left == g.Rig })
		if at < 0 || g.Band != "" || g.Kind != "" {
			continue
		}
		on := map[string]bool{}
		for _, i := range folds[at].Train {
			on[d.Cases[i].Rig.Name] = true
		}
		out = append(out, LeftRig{Rig: g.Rig, TrainedOn: sortedKeys(on), Group: g})
	}
	return out
}

// RigToRigFits is how many fits RigToRig makes, for its progress; 0 where there are
// too few rigs.
func RigToRigFits(d *Data, families int) int {
	folds, _, err := foldsByRig(d, LeaveRig)
	if err != nil {
		return 0
	}
	return len(folds) * families
}

// AddRigToRig adds what RigToRig tells to the comparison.
func (c *Comparison) AddRigToRig(rigs []LeftRig, skipped []Skip) {
	c.RigToRig = rigs
	for _, s := range skipped {
		if !slices.Contains(c.Skipped, s) {
			c.Skipped = append(c.Skipped, s)
		}
	}
}
