package tune

import (
	"context"
	"math/rand/v2"

	"strikerose/dataset/bearing"
	"strikerose/eval"
	"strikerose/features"
	"strikerose/models"
)

// Worth is what a detector loses without a group of features: the mean rise of
// its errors on unseen strikes when the group's values come from another strike.
type Worth struct {
	Group
	Rise Errors `json:"rise"` // how much the errors on unseen strikes rise when the group's values come from another strike
}

// mostShifts is how many other strikes each strike's values are taken from.
const mostShifts = 6

// Importance measures what each group is worth to a family. With whole sessions
// held back, a group's values are exchanged among strikes of one rig and session,
// all of the group together. Vectors are turned along, so that they lie to the
// answer of the strike that they are given to as they lay to that of their own:
// otherwise a kick to the north beside a tip to the south would ask of the detector
// what no blow can do. The rise is therefore what a group tells beyond the rough
// direction, which any horizontal vector gives. Groups that tell the same thing
// stand in for each other, and each seems worth little.
func Importance(ctx context.Context, ex []models.Example, f models.Family, o Options) ([]Worth, error) {
	o = o.withDefaults()
	ex = inOrder(ex)
	folds, err := foldsOf(ex, o.Folds)
	if err != nil {
		return nil, err
	}
	detectors := make([]*models.Model, len(folds))
	err = eval.Parallel(ctx, len(folds), o.Workers, func(k int) (err error) {
		defer o.done()
		bare := o.Fit
		bare.Uncalibrated = true
		detectors[k], err = fit(ctx, f, folds[k].train, bare)
		return err
	})
	if err != nil {
		return nil, err
	}
	var names []string
	for _, m := range detectors {
		if m.ReadsWindow() {
			return nil, errNoFeatures(f.Name)
		}
		names = union(names, m.Reads())
	}
	groups := Groups(names)
	rises := make([]losses, len(groups))
	for g := range rises {
		rises[g] = newLosses(len(ex))
	}
	err = eval.Parallel(ctx, len(folds)*len(groups), o.Workers, func(i int) error {
		k, g := i/len(groups), i%len(groups)
		rng := rand.New(rand.NewPCG(o.Fit.Seed, uint64(1000+i)))
		for _, own := range alike(ex, folds[k].test) {
			rises[g].raise(detectors[k], ex, own, groups[g].Features, mostShifts, rng)
		}
		return ctx.Err()
	})
	if err != nil {
		return nil, err
	}
	out := make([]Worth, len(groups))
	for g := range out {
		out[g] = Worth{Group: groups[g], Rise: rises[g].errors(ex, o.Fit.Seed, "importance of "+groups[g].Name)}
	}
	return out, nil
}

// alike parts positions by session and rig.
func alike(ex []models.Example, positions []int) [][]int {
	at := map[[2]string]int{}
	var out [][]int
	for _, i := range positions {
		key := [2]string{ex[i].Session, ex[i].Rig.Key()}
		k, known := at[key]
		if !known {
			k = len(out)
			at[key] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], i)
	}
	return out
}

// raise puts the rises of the losses of some strikes, all of one rig.
func (l losses) raise(d models.Detector, ex []models.Example, own []int, group []string, most int, rng *rand.Rand) {
	toward := make([]float64, len(own))
	for p, i := range own {
		toward[p] = d.Estimate(ex[i].Input).BearingDeg
	}
	rises := Rise(len(own), Shifts(len(own), most, rng), func(from []int) [][]float64 {
		scored := newLosses(len(own))
		for p, i := range own {
			in := ex[i].Input
			if j := from[p]; j != p {
				turn := bearing.Unit(bearing.Diff(toward[p], toward[j]))
				in.Row = append(features.Row(nil), in.Row...)
				for _, n := range group {
					in.Row.Take(n, ex[own[j]].Row, turn)
				}
			}
			scored.put(p, d.Estimate(in), ex[i])
		}
		return [][]float64{scored.bearingDeg, scored.heightM, scored.criterion}
	})
	for p, i := range own {
		l.bearingDeg[i], l.heightM[i], l.criterion[i] = rises[0][p], rises[1][p], rises[2][p]
	}
}

// union lists first and then what second adds.
func union(first, second []string) []string {
	out := append([]string(nil), first...)
	seen := map[string]bool{}
	for _, n := range first {
		seen[n] = true
	}
	for _, n := range second {
		if !seen[n] {
			out = append(out, n)
		}
	}
	return out
}
