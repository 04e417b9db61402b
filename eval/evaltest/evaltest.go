// Package evaltest makes up strikes and detectors for the tests of eval and
// its reports. Nothing in it is a recording: a strike's row holds where it
// landed plus noise, and the detectors are simple enough to know what their
// scores must be.
package evaltest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/features"
	"strikerose/label"
	"strikerose/models"
)

// Spread of the rows about the truth.
const (
	NoiseDeg = 4.0
	NoiseM   = 0.03
	YawDeg   = 12.0 // what a rule without labels does not know
)

// Rig is a bag of one metre with six faces and three bands. Without a
// gyroscope when gyroDPS is 0.
func Rig(name string, revision int, gyroDPS float64) *rig.Rig {
	return &rig.Rig{
		Name: name, Revision: revision, Faces: 6,
		Bands:  []rig.Band{{Name: "low", ToM: 0.35}, {Name: "mid", ToM: 0.65}, {Name: "high"}},
		Bag:    rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.35},
		Hang:   rig.Hang{ChainM: 0.48, StrapM: 0.08},
		Sensor: rig.Sensor{DepthM: 0.1, RateHz: 1000, AccelRangeG: 16, GyroRangeDPS: gyroDPS, Axes: rig.Axes{X: "90", Y: "0", Z: "up"}},
	}
}

// Session says how many strikes of which session are made up.
type Session struct {
	Name, Striker string
	Rig           *rig.Rig
	Strikes       int
}

// Sessions are n sessions of one rig by alternating strikers.
func Sessions(n, strikes int) []Session {
	r := Rig("shed", 1, 2000)
	out := make([]Session, n)
	for i := range out {
		out[i] = Session{Name: fmt.Sprintf("s%02d", i+1), Striker: []string{"ann", "bo"}[i%2], Rig: r, Strikes: strikes}
	}
	return out
}

// Data makes up labelled strikes. Row[0] and Row[1] point to where the strike
// landed plus noise and YawDeg (east and north), Row[2] is its height plus
// noise.
func Data(sessions []Session, seed uint64) *eval.Data {
	rng := rand.New(rand.NewPCG(seed, 1))
	d := &eval.Data{TrainTruth: label.Timed, ScoreTruth: label.Timed}
	kinds := []string{"straight", "straight", "hook", "uppercut", "tap"}
	for _, s := range sessions {
		counts := eval.Counts{Session: s.Name, Rig: s.Rig.Key(), Striker: s.Striker, Found: s.Strikes + 1, NotStrikes: 1,
			Scored: s.Strikes, Trained: s.Strikes, CompleteTruth: true, TruthStrikes: s.Strikes}
		var detection eval.DetectionSession
		detection.Session = s.Name
		for i := range s.Strikes {
			b := bearing.Wrap360(bearing.FaceCentre(1+rng.IntN(6), 6) + 8*rng.NormFloat64())
			h := []float64{0.22, 0.5, 0.78}[rng.IntN(3)] + 0.04*rng.NormFloat64()
			target := &eval.Target{BearingDeg: b, HeightM: h, Face: s.Rig.FaceOf(b), Band: s.Rig.BandOf(h),
				Kind: kinds[rng.IntN(len(kinds))], Source: label.Timed, Confidence: 1}
			seen := bearing.Rad(b + YawDeg + NoiseDeg*rng.NormFloat64())
			onset := int64(i) * 1_500_000_000
			d.Cases = append(d.Cases, eval.Case{
				Session: s.Name, Striker: s.Striker, Rig: s.Rig,
				Strike: dataset.Strike{Number: i + 1, OnsetNs: onset, ReadyNs: onset + 60_000_000},
				Row:    features.Row{math.Sin(seen), math.Cos(seen), h + NoiseM*rng.NormFloat64()},
				Train:  target, Score: target,
			})
			detection.TruthNs = append(detection.TruthNs, onset-1_000_000)
			detection.FoundNs = append(detection.FoundNs, onset)
			detection.ReadyNs = append(detection.ReadyNs, onset+60_000_000)
		}
		detection.FoundNs = append(detection.FoundNs, int64(s.Strikes)*1_500_000_000)
		detection.ReadyNs = append(detection.ReadyNs, int64(s.Strikes)*1_500_000_000+60_000_000)
		d.Counts = append(d.Counts, counts)
		d.Detection = append(d.Detection, detection)
	}
	return d
}

// detector answers by a function.
type detector struct {
	info   models.Info
	answer func(models.Input) models.Estimate
}

func (d detector) Info() models.Info                        { return d.info }
func (d detector) Estimate(in models.Input) models.Estimate { return d.answer(in) }

// Families are the made-up detectors:
//
//	pointer   rule, bearing alone: where the row points, so off by YawDeg
//	turncoat  rule: pointer and the row's height, but low strikes come out on the opposite side
//	learner   fitted: takes off the mean errors of its training strikes
//	twin      fitted: learner with a trace of scatter of its own, so that it cannot be told from it
//	parrot    fitted: always answers the mean of its training strikes
func Families() []models.Family {
	both := []string{"bearing", "height"}
	return []models.Family{
		family(models.Info{Name: "pointer", Kind: models.Rule, Doc: "where the row points", Gives: []string{"bearing"}, WaitMs: 25},
			func([]models.Example) func(models.Input) models.Estimate { return pointer(0, 0) }),
		family(models.Info{Name: "turncoat", Kind: models.Rule, Doc: "wrong way round for low strikes", Gives: both, WaitMs: 25},
			func([]models.Example) func(models.Input) models.Estimate {
				return func(in models.Input) models.Estimate {
					e := pointer(0, 0)(in)
					if e.HeightM < 0.35 {
						e.BearingDeg = bearing.Wrap360(e.BearingDeg + 180)
					}
					return e
				}
			}),
		family(models.Info{Name: "learner", Kind: models.Fitted, Doc: "takes off the mean errors", Gives: both, WaitMs: 50}, learn(0)),
		family(models.Info{Name: "twin", Kind: models.Fitted, Doc: "learner once more", Gives: both, NeedsGyro: true, WaitMs: 50}, learn(0.5)),
		family(models.Info{Name: "parrot", Kind: models.Fitted, Doc: "always the same answer", Gives: both, WaitMs: 5},
			func(ex []models.Example) func(models.Input) models.Estimate {
				var deg []float64
				var height float64
				for _, e := range ex {
					deg = append(deg, e.BearingDeg)
					height += e.HeightM / float64(len(ex))
				}
				mean, _ := bearing.Mean(deg)
				return func(models.Input) models.Estimate { return estimate(mean, height) }
			}),
	}
}

func family(info models.Info, fit func([]models.Example) func(models.Input) models.Estimate) models.Family {
	return models.Family{Info: info, Fit: func(_ context.Context, ex []models.Example, _ models.Options) (models.Detector, error) {
		if info.Kind == models.Fitted && len(ex) == 0 {
			return nil, errors.New("nothing to learn from")
		}
		return detector{info: info, answer: fit(ex)}, nil
	}}
}

func estimate(deg, heightM float64) models.Estimate {
	return models.Estimate{
		BearingDeg: bearing.Wrap360(deg), HeightM: heightM, BearingSDDeg: NoiseDeg, HeightSDM: NoiseM,
		BearingHalf90Deg: 1.645 * NoiseDeg, HeightHalf90M: 1.645 * NoiseM,
	}
}

func pointer(yawDeg, liftM float64) func(models.Input) models.Estimate {
	return func(in models.Input) models.Estimate {
		return estimate(bearing.FromVector(in.Row[0], in.Row[1])-yawDeg, in.Row[2]-liftM)
	}
}

// learn returns a fit that takes off the mean errors; its answers scatter by
// scatterDeg, as the row's last digits have it.
func learn(scatterDeg float64) func([]models.Example) func(models.Input) models.Estimate {
	return func(ex []models.Example) func(models.Input) models.Estimate {
		var deg []float64
		var lift float64
		for _, e := range ex {
			deg = append(deg, bearing.FromVector(e.Row[0], e.Row[1])-e.BearingDeg)
			lift += (e.Row[2] - e.HeightM) / float64(len(ex))
		}
		yaw, _ := bearing.Mean(deg)
		return func(in models.Input) models.Estimate {
			_, fraction := math.Modf(1e6 * in.Row[0])
			return pointer(yaw+scatterDeg*fraction, lift)(in)
		}
	}
}

// Costing is a family whose detectors state a cost, and whether they can be
// exported to a board.
func Costing(f models.Family, cost models.Cost, board bool) models.Family {
	f.Cost, f.Board = cost, board
	if !board {
		f.NotBoard = "it is made up"
	}
	fit, info := f.Fit, f.Info
	f.Fit = func(ctx context.Context, ex []models.Example, o models.Options) (models.Detector, error) {
		d, err := fit(ctx, ex, o)
		if err != nil {
			return nil, err
		}
		return detector{info: info, answer: d.Estimate}, nil
	}
	return f
}
