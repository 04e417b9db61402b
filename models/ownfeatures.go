package models

import (
	"fmt"
	"slices"

	"strikerose/features"
)

// ownFeatures are the features with weights of a rig's own, where nothing limits
// them: ownVectors and the odd scalar that tells the twist.
func ownFeatures() []string { return append(ownVectors(), "twist") }

// Before the contact is over, rotation and push have both come equally far, so
// that their ratio tells the height already. Where the wait leaves no rotation
// after the contact, the latest of these stands in, the model's own share of the
// pulse in its weight.
func earlyRock() []string { return []string{"rock_18_25", "rock_12_18", "rock_8_12"} }
func earlySpin() []string { return []string{"spin_18_25", "spin_12_18", "spin_8_12"} }

// splitOwn parts features with weights of a rig's own into vectors and odd
// scalars; nil stands for all.
func splitOwn(names []string) (vectors, odd []string) {
	if names == nil {
		names = ownFeatures()
	}
	for _, n := range names {
		if features.DefOf(n).Vector {
			vectors = append(vectors, n)
		} else {
			odd = append(odd, n)
		}
	}
	return vectors, odd
}

// checkOwn refuses features without weights of a rig's own.
func checkOwn(names []string) error {
	known := slices.Concat(ownFeatures(), earlyRock(), earlySpin())
	for _, n := range names {
		if !slices.Contains(known, n) {
			return fmt.Errorf("feature %q has no weight of a rig's own", n)
		}
	}
	return nil
}

// own returns the features with weights of a rig's own as far as the options
// allow them; nil is all. It is an error where nothing of the push is left.
func (o Options) own() ([]string, error) {
	names := o.inTime(ownFeatures())
	if slices.Equal(names, ownFeatures()) {
		return nil, nil
	}
	return names, o.pushed(names, ownFeatures())
}

// inTime is cut, with what tells the rotation early in place of what is cut
// because it tells it after the contact.
func (o Options) inTime(names []string) []string {
	out := o.cut(names)
	for _, s := range []struct {
		late  string
		early []string
	}{{"tip", earlyRock()}, {"twist", earlySpin()}} {
		if !slices.Contains(names, s.late) || o.allows(s.late) {
			continue
		}
		if k := slices.IndexFunc(s.early, o.allows); k >= 0 {
			out = union(out, s.early[k:k+1])
		}
	}
	return out
}

// lists cuts a family's lists to what the options allow. It is an error where
// nothing of the push is left: such a detector would answer by the swing before.
func (o Options) lists(vectors, odd, even []string) (v, od, ev []string, err error) {
	v, od, ev = o.inTime(vectors), o.inTime(odd), o.cut(even)
	if err := o.pushed(v, vectors); err != nil {
		return nil, nil, nil, err
	}
	return v, od, ev, nil
}

// pushed refuses vectors that tell nothing of the push; all is what they were cut
// from.
func (o Options) pushed(vectors, all []string) error {
	first := 0.0
	for _, n := range all {
		if d := features.DefOf(n); d.ToMs > 0 && !d.NeedsGyro && d.Vector {
			if slices.Contains(vectors, n) {
				return nil
			}
			if first == 0 || d.ToMs < first {
				first = d.ToMs
			}
		}
	}
	if o.WithinMs > 0 && first > o.WithinMs {
		return tooShort(o.WithinMs, first)
	}
	return fmt.Errorf("nothing is left that tells the push: allow one of %v", all)
}

// longStretches are those after the usual wait.
func longStretches() []string {
	return []string{"_65_100", "_100_140", "_140_200", "_200_260", "_260_350"}
}

// waited adds to lists without a gyroscope the stretches that a wait of more than
// the usual 65 ms lets in. On simulated recordings (TestRecordingsWithin) 200 ms in
// place of 65 took 8 % off the error in height on one rig of three and nothing
// off the others, which is why 65 ms are usual; with a gyroscope later stretches
// teach nothing at all.
func (o Options) waited(vectors, odd, even []string) (v, od, ev []string) {
	for _, s := range longStretches() {
		if features.ToMs("accel"+s) <= o.WithinMs {
			vectors, even = append(vectors, "accel"+s), append(even, "vertical"+s)
		}
	}
	return vectors, odd, even
}
