package advice

import (
	"context"
	"math"

	"strikerose/dataset/rig"
	"strikerose/eval/bound"
)

// perBand is how many heights of a band are looked at: the middles of as many
// equal slices.
const perBand = 8

// study is a sheet in the making.
type study struct {
	rig       *rig.Rig
	mechanics rig.Mechanics
	options   Options
	heights   []float64 // the slices of all bands, from the bottom up
	sheet     Sheet
}

func (s *study) run(ctx context.Context) error {
	s.sheet = Sheet{Version: Version, Key: s.rig.Key(), Rig: s.rig, Tolerance: s.tolerance(), Blow: s.blow()}
	s.sheet.Modes, s.sheet.Mass, s.sheet.Dead = s.modes(), s.mass(), s.dead()
	for _, b := range s.rig.Bands {
		from, to, _ := s.rig.BandRange(b.Name)
		for i := range perBand {
			s.heights = append(s.heights, from+(to-from)*(float64(i)+0.5)/perBand)
		}
	}
	for _, step := range []func(context.Context) error{s.assume, s.errorsAlongBag, s.overWait, s.overDepth} {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := step(ctx); err != nil {
			return err
		}
	}
	var err error
	s.sheet.Advice, err = s.advise()
	return err
}

// sensor is the setting of the sensor's limit.
func (s *study) sensor(gyro bool) bound.Setting { return bound.Setting{Rig: s.rig, Gyro: gyro} }

// enoughHz is the rate up to which the workable limit is computed: model noise
// holds on for longer than samples are apart then, and a faster rate buys
// little but work.
const enoughHz = 400.0

// workable is the setting of the workable limit.
func (s *study) workable(gyro bool) bound.Setting {
	prior := bound.UsualRigPrior()
	return bound.Setting{Rig: s.rig, Gyro: gyro, RateHz: min(enoughHz, s.rig.Sensor.RateHz), Model: bound.UsualModelNoise(), Prior: &prior}
}

func (s *study) tolerance() Tolerance {
	t := Tolerance{BearingDeg: s.options.BearingToleranceDeg, HeightM: s.options.HeightToleranceM}
	if t.BearingDeg == 0 {
		t.BearingDeg = 360 / float64(s.rig.Faces) / 4
	}
	if t.HeightM == 0 {
		t.HeightM = math.Inf(1)
		for _, b := range s.rig.Bands {
			from, to, _ := s.rig.BandRange(b.Name)
			t.HeightM = min(t.HeightM, (to-from)/4)
		}
	}
	return t
}

func (s *study) blow() Blow {
	b := Blow{PeakN: straightPeakN, PeakSource: straightSource, ImpulseNs: straightImpulseNs, HookPeakN: hookPeakN, HookSource: hookSource,
		PulseSource: "effective mass times hand speed of the straight punch"}
	b.ContactS = math.Pi * b.ImpulseNs / (2 * b.PeakN)
	if n := s.options.PeakForceN; n > 0 { // the same pulse, harder or softer
		b.ImpulseNs *= n / b.PeakN
		b.PeakN, b.PeakSource = n, givenSource
	}
	return b
}

// assume notes what the least errors rest on.
func (s *study) assume(context.Context) error {
	f, err := s.sensor(s.rig.HasGyro()).Filled()
	if err != nil {
		return err
	}
	s.sheet.Assumed = Assumed{ImpulseNs: f.ImpulseNs, ContactS: f.ContactS, BeforeS: f.BeforeS, AfterS: f.AfterS, RateHz: f.RateHz,
		AccelNoiseMPS2: f.AccelNoiseMPS2, NoiseGiven: s.rig.Sensor.AccelNoiseMPS2 > 0, GyroNoiseRadps: f.GyroNoiseRadps}
	return nil
}

// errorsAlongBag fills the bands, the heights and the whole.
func (s *study) errorsAlongBag(context.Context) error {
	gyro := s.rig.HasGyro()
	sensor, err := bound.AlongBag(s.sensor(gyro), s.heights)
	if err != nil {
		return err
	}
	workable, err := bound.AlongBag(s.workable(gyro), s.heights)
	if err != nil {
		return err
	}
	other, err := bound.AlongBag(s.workable(!gyro), s.heights)
	if err != nil {
		return err
	}
	sheet, m := &s.sheet, s.mechanics
	for i, b := range s.rig.Bands {
		from, to, _ := s.rig.BandRange(b.Name)
		part := func(all []bound.Least) []bound.Least { return all[i*perBand : (i+1)*perBand] }
		band := Band{Name: b.Name, FromM: from, ToM: to,
			FlipShare:   overlap(from, to, sheet.Dead.FlipFromM, sheet.Dead.FlipToM) / (to - from),
			SensorLimit: errorOf(worst(part(sensor))), WorkableLimit: errorOf(worst(part(workable))), OtherSensor: errorOf(worst(part(other)))}
		band.MisplacedShare, band.WrongBandShare = meanMisplaced(s.rig, part(workable))
		band.OtherMisplaced, _ = meanMisplaced(s.rig, part(other))
		if sd := band.WorkableLimit.HeightSDM; sd != nil && len(s.rig.Bands) > 1 {
			band.NeedsWidthM = widthPerSD * *sd
		}
		if h := sheet.Dead.HeightM; h != nil {
			band.HoldsDeadHeight = *h >= from && *h < to
		}
		for _, h := range []float64{from, to} { // accelerance is linear in height
			band.HardestG = max(band.HardestG, math.Abs(m.Accelerance(m.DepthM(h), m.SensorM))*sheet.Blow.PeakN/rig.StandardGravityMPS2)
		}
		share := (to - from) / s.rig.Bag.LengthM
		sheet.Whole.MisplacedShare += share * band.MisplacedShare
		sheet.Whole.OtherMisplaced += share * band.OtherMisplaced
		sheet.Whole.HardestG = max(sheet.Whole.HardestG, band.HardestG)
		sheet.Bands = append(sheet.Bands, band)
	}
	sheet.Whole.ClippedShare = s.clippedShare(m, s.rig.Sensor.AccelRangeG)
	sheet.Whole.ClipsFromN = s.rig.Sensor.AccelRangeG / sheet.Whole.HardestG * sheet.Blow.PeakN
	for _, h := range []float64{0, m.LengthM} {
		_, turn := m.Kick(m.DepthM(h))
		sheet.Whole.TurnRadps = max(sheet.Whole.TurnRadps, math.Abs(turn)*sheet.Blow.ImpulseNs)
	}
	sheet.Whole.ContactSamples = s.rig.Sensor.RateHz * sheet.Blow.ContactS
	for i, h := range s.heights {
		sheet.Heights = append(sheet.Heights, AtHeight{HeightM: h, AcceleranceKg1: m.Accelerance(m.DepthM(h), m.SensorM),
			SensorLimit: errorOf(sensor[i]), WorkableLimit: errorOf(workable[i])})
	}
	return nil
}

// widthPerSD is the width of a sector in standard deviations in which four
// fifths of the strikes stay.
const widthPerSD = 4.0

// worst is the largest of each error.
func worst(all []bound.Least) bound.Least {
	out := all[0]
	for _, l := range all[1:] {
		out.BearingSDDeg = max(out.BearingSDDeg, l.BearingSDDeg)
		out.HeightSDM = max(out.HeightSDM, l.HeightSDM)
	}
	return out
}

// meanMisplaced is the mean of misplaced.
func meanMisplaced(r *rig.Rig, all []bound.Least) (share, wrongBand float64) {
	for _, l := range all {
		a, b := misplaced(r, l)
		share += a / float64(len(all))
		wrongBand += b / float64(len(all))
	}
	return share, wrongBand
}

// wholeMisplaced is the share of strikes, even along the bag, that are
// misplaced, from the errors at the study's heights.
func (s *study) wholeMisplaced(all []bound.Least) float64 {
	sum := 0.0
	for i, b := range s.rig.Bands {
		from, to, _ := s.rig.BandRange(b.Name)
		share, _ := meanMisplaced(s.rig, all[i*perBand:(i+1)*perBand])
		sum += share * (to - from) / s.rig.Bag.LengthM
	}
	return sum
}

// overlap is how much of one stretch lies in another.
func overlap(from, to, otherFrom, otherTo float64) float64 {
	return max(0, min(to, otherTo)-max(from, otherFrom))
}
