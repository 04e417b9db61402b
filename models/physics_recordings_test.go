package models_test

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/models"
)

// about collects errors about the circular mean of the bearing errors: the
// mount's yaw, which no rule knows without labels.
type about struct {
	signedDeg []float64 // as answered
	answers   []models.Estimate
	of        []labelled
}

func (a *about) add(e models.Estimate, l labelled) {
	a.signedDeg = append(a.signedDeg, bearing.Diff(e.BearingDeg, l.BearingDeg))
	a.answers, a.of = append(a.answers, e), append(a.of, l)
}

// figures are what is printed of one group of strikes.
type figures struct {
	n                                        int
	raw, mae, median, p95                    float64 // degrees, the last three about the bias
	flips, sureFlips, unsure, inFace, inBand float64 // shares
	heightM, heightBiasM, coverB, coverH     float64
	medianSDDeg, medianSDM                   float64
}

func (a *about) figures(biasDeg float64, in func(labelled) bool) figures {
	var f figures
	var errors, sds, sdms []float64
	for i, l := range a.of {
		if !in(l) {
			continue
		}
		e, raw := a.answers[i], a.signedDeg[i]
		off, h := math.Abs(bearing.Diff(raw, biasDeg)), e.HeightM-l.HeightM
		f.n++
		errors, sds, sdms = append(errors, off), append(sds, e.BearingSDDeg), append(sdms, e.HeightSDM)
		f.raw += math.Abs(raw)
		f.heightM += math.Abs(h)
		f.heightBiasM += h
		for _, c := range []struct {
			to *float64
			is bool
		}{
			{&f.flips, off > 120}, {&f.sureFlips, off > 120 && !e.Unsure}, {&f.unsure, e.Unsure},
			{&f.inFace, l.Rig.FaceOf(bearing.Wrap360(e.BearingDeg-biasDeg)) == l.Rig.FaceOf(l.BearingDeg)},
			{&f.inBand, l.Rig.BandOf(e.HeightM) == l.Rig.BandOf(l.HeightM)},
			{&f.coverB, off <= e.BearingHalf90Deg}, {&f.coverH, math.Abs(h) <= e.HeightHalf90M},
		} {
			if c.is {
				*c.to++
			}
		}
	}
	if f.n == 0 {
		return f
	}
	for _, v := range []*float64{&f.raw, &f.flips, &f.sureFlips, &f.unsure, &f.inFace, &f.inBand, &f.heightM, &f.heightBiasM, &f.coverB, &f.coverH} {
		*v /= float64(f.n)
	}
	f.mae, f.median, f.p95 = average(errors), quantile(errors, 0.5), quantile(errors, 0.95)
	f.medianSDDeg, f.medianSDM = quantile(sds, 0.5), quantile(sdms, 0.5)
	return f
}

func (f figures) String() string {
	return fmt.Sprintf("n %3d bearing raw %5.1f, about its bias %5.2f med %5.2f p95 %5.1f flips %4.1f%% (not unsure %3.1f%%) face %3.0f%% | height %.3f m bias %+.3f band %3.0f%% | cover %3.0f%% %3.0f%% sd %4.1f deg %.3f m unsure %2.0f%%",
		f.n, f.raw, f.mae, f.median, f.p95, 100*f.flips, 100*f.sureFlips, 100*f.inFace, f.heightM, f.heightBiasM, 100*f.inBand,
		100*f.coverB, 100*f.coverH, f.medianSDDeg, f.medianSDM, 100*f.unsure)
}

// withExactMount has a rig file that takes its yaw for exact, for errors about
// their bias: what the mount may be turned by is no part of them.
func withExactMount(in models.Input) models.Input {
	r, exact := *in.Rig, 0.0
	r.Sensor.YawSDDeg = &exact
	in.Rig = &r
	return in
}

// biasOf is the circular mean of the errors, those near it alone: flips say
// nothing of a mount.
func biasOf(errors []float64) float64 {
	mean, _ := bearing.WeightedMean(errors, nil)
	for range 5 {
		var near []float64
		for _, e := range errors {
			if math.Abs(bearing.Diff(e, mean)) < 45 {
				near = append(near, e)
			}
		}
		mean, _ = bearing.WeightedMean(near, nil)
	}
	return bearing.Wrap180(mean)
}

// TestPhysicsOnRecordings measures the rules that know the bag, trained on
// nothing, beside the rule that knows least.
func TestPhysicsOnRecordings(t *testing.T) {
	dir := datasettest.Recordings(t)
	type limits struct{ bearing, height, flips float64 }
	must := map[string]limits{
		"A gyroscope": {2.0, 0.030, 0.002}, "B0 gyroscope": {1.4, 0.030, 0.002}, "B1 gyroscope": {1.4, 0.030, 0.002}, "C gyroscope": {1.4, 0.030, 0.002},
		"A accelerometer": {20, 0.09, 0.05}, "B0 accelerometer": {6, 0.040, 0}, "B1 accelerometer": {6, 0.040, 0}, "C accelerometer": {6, 0.040, 0},
	}
	for _, folder := range []string{"A", "B0", "B1", "C"} {
		all := readFolder(t, filepath.Join(dir, folder))
		for _, v := range []struct {
			name string
			all  []labelled
		}{{"gyroscope", all}, {"accelerometer", withoutGyro(all)}} {
			for _, name := range []string{"physics", "pendulum", "peak-arctangent"} {
				family, _ := models.FamilyByName(name)
				if family.NeedsGyro && v.name != "gyroscope" {
					continue
				}
				d, err := family.Fit(t.Context(), nil, models.Options{Seed: 1})
				if err != nil {
					t.Fatal(err)
				}
				var a, asSaid about // with an exact mount, whose turn is subtracted; and as answered
				for _, l := range v.all {
					a.add(d.Estimate(withExactMount(l.Input)), l)
					asSaid.add(d.Estimate(l.Input), l)
				}
				bias := biasOf(a.signedDeg)
				whole := a.figures(bias, func(labelled) bool { return true })
				answered := asSaid.figures(0, func(labelled) bool { return true })
				t.Logf("%-2s %-13s %-15s bias %+.1f %s | with the mount as the rig file says: cover %3.0f%% sd %.1f", folder, v.name, name, bias, whole, 100*answered.coverB, answered.medianSDDeg)
				if name != "physics" {
					continue
				}
				for _, g := range []string{"low", "mid", "high", "straight", "hook", "upward", "tap", "clipped", "unclipped", "second", "first"} {
					if f := a.figures(bias, func(l labelled) bool { return l.in(g) }); f.n > 0 {
						t.Logf("       %-10s %s", g, f)
					}
				}
				m := must[folder+" "+v.name]
				if whole.mae > m.bearing || whole.heightM > m.height || whole.flips > m.flips {
					t.Errorf("%s, %s: bearing %.2f deg, height %.4f m, flips %.4f; want at most %+v", folder, v.name, whole.mae, whole.heightM, whole.flips, m)
				}
				if whole.coverB < 0.8 || whole.coverH < 0.8 {
					t.Errorf("%s, %s: intervals of 90 %% hold %.0f %% of bearings and %.0f %% of heights", folder, v.name, 100*whole.coverB, 100*whole.coverH)
				}
			}
		}
	}
}

// in tells whether a strike is of a band, a kind, clipped or a second hit.
func (l labelled) in(group string) bool {
	switch group {
	case "clipped", "unclipped":
		return l.Window.Strike.Clipped == (group == "clipped")
	case "second", "first":
		return l.second == (group == "second")
	}
	return l.band == group || l.kind == group
}
