package advice

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"strikerose/eval/bound"
)

// Advice is one thing to do about a rig.
type Advice struct {
	// Kind is the sort of advice, for programs: one of MoveSensor, AddGyroscope, RaiseRange,
	// RaiseGyroRange, RaiseRate, KnowTheRig, ListenOn, WaitLonger, WidenBand,
	// SkipHeights or MeasureMass.
	Kind    string `json:"kind"`
	Do      string `json:"do"`      // what to do
	Because string `json:"because"` // why
	Gain    string `json:"gain"`    // what it gains, in words
	// GainStrikes is how many strikes in a hundred it keeps from going wrong, in [0, 100],
	// for strikes spread evenly over the faces and along the bag.
	GainStrikes float64 `json:"gain_strikes"`
}

// Kinds of advice.
const (
	MoveSensor     = "move-sensor"
	AddGyroscope   = "add-gyroscope"
	RaiseRange     = "raise-range"
	RaiseGyroRange = "raise-gyro-range"
	RaiseRate      = "raise-rate"
	KnowTheRig     = "know-the-rig" // use no rule of the first kick alone
	ListenOn       = "listen-on"    // past a weak first kick
	WaitLonger     = "wait"
	WidenBand      = "widen-band"
	SkipHeights    = "skip-heights"
	MeasureMass    = "measure-mass"
)

// leastGain is the share of strikes below which a change is not worth a word.
const leastGain = 0.005

// advise asks every adviser and ranks what they say. Equal gains stay in the
// order of the list.
func (s *study) advise() ([]Advice, error) {
	all := []Advice{}
	for _, ask := range []func() ([]Advice, error){
		s.moveSensor, s.knowTheRig, s.listenOn, s.addGyroscope, s.widenBands, s.raiseRange, s.raiseGyroRange, s.raiseRate,
		s.waitLonger, s.measureMass,
	} {
		said, err := ask()
		if err != nil {
			return nil, err
		}
		all = append(all, said...)
	}
	slices.SortStableFunc(all, func(a, b Advice) int { return cmp.Compare(b.GainStrikes, a.GainStrikes) })
	return all, nil
}

// one makes a list of one piece of advice; gain is a share.
func one(kind string, gain float64, do, because, gained string) ([]Advice, error) {
	return []Advice{{Kind: kind, Do: do, Because: because, Gain: gained, GainStrikes: 100 * gain}}, nil
}

// moveSensor looks for the depth, among those that a sensor can sit at, with
// the fewest strikes misplaced, thrown to the far side or clipped, one added to
// the other. Depths with less than one in a hundred more count as equal; the
// nearest of them is taken.
func (s *study) moveSensor() ([]Advice, error) {
	const equal = 0.01
	harm := func(d Depth) float64 { return d.MisplacedShare + d.FlipShare + d.ClippedShare }
	length, at, w, flips := s.rig.Bag.LengthM, s.rig.Sensor.DepthM, s.sheet.Whole, s.sheet.Dead.FlipShare
	away := func(d Depth) float64 { return math.Abs(d.DepthM - at) }
	good := slices.DeleteFunc(slices.Clone(s.sheet.Depths), func(d Depth) bool { return !d.CanSit })
	if len(good) == 0 {
		return nil, nil
	}
	least := harm(slices.MinFunc(good, func(a, b Depth) int { return cmp.Compare(harm(a), harm(b)) }))
	good = slices.DeleteFunc(good, func(d Depth) bool { return harm(d) > least+equal })
	best := slices.MinFunc(good, func(a, b Depth) int { return cmp.Compare(away(a), away(b)) })
	now := Depth{MisplacedShare: w.MisplacedShare, FlipShare: flips, ClippedShare: w.ClippedShare}
	if harm(now)-harm(best) < equal || away(best) < length/steps {
		return nil, nil
	}
	because := fmt.Sprintf("with the sensor at %.2f m, %s of 100 strikes are misplaced at the workable limit, %s kick it the wrong way round and %s clip when hard; at %.2f m these are %s, %s and %s.",
		at, hundred(w.MisplacedShare), hundred(flips), hundred(w.ClippedShare),
		best.DepthM, hundred(best.MisplacedShare), hundred(best.FlipShare), hundred(best.ClippedShare))
	if end := runFrom(good, best, length/steps); end != best.DepthM {
		because += fmt.Sprintf(" All of %.2f to %.2f m is as good.", min(best.DepthM, end), max(best.DepthM, end))
	}
	gain, gained := 0.0, ""
	for _, g := range []struct {
		share float64
		what  string
	}{
		{flips - best.FlipShare, "no longer thrown to the far side by peak and arctangent"},
		{w.ClippedShare - best.ClippedShare, "unclipped when hard"},
		{w.MisplacedShare - best.MisplacedShare, "more on the right face and band"},
	} {
		if g.share > gain {
			gain, gained = g.share, g.what
		}
	}
	return one(MoveSensor, gain, fmt.Sprintf("Move the sensor to %.2f m below the bag's top edge.", best.DepthM), because, ofHundred(gain)+" "+gained)
}

// runFrom returns the depth at which a run of good depths, one a step, that
// begins with the best ends.
func runFrom(good []Depth, best Depth, step float64) float64 {
	at := slices.IndexFunc(good, func(d Depth) bool { return d.DepthM == best.DepthM })
	for _, way := range []int{1, -1} {
		end := at
		for next := end + way; next >= 0 && next < len(good) && math.Abs(good[next].DepthM-good[end].DepthM) < 1.5*step; next += way {
			end = next
		}
		if end != at {
			return good[end].DepthM
		}
	}
	return best.DepthM
}

// knowTheRig warns of rules that trust the direction of the first kick.
func (s *study) knowTheRig() ([]Advice, error) {
	d := s.sheet.Dead
	if d.FlipShare < leastGain {
		return nil, nil
	}
	side := "below"
	if d.FlipToM >= s.rig.Bag.LengthM {
		side = "above"
	}
	because := fmt.Sprintf("blows %s the dead height at %.2f m kick the sensor toward the striker, so that a bearing read off the first peak is wrong by 180 degrees there: ", side, *d.HeightM)
	for i, b := range s.sheet.Bands {
		if i > 0 {
			because += ", "
		}
		because += fmt.Sprintf("%s %.0f %%", b.Name, 100*b.FlipShare)
	}
	return one(KnowTheRig, d.FlipShare, "Do not use peak-arctangent; use physics or a fitted detector.", because+" of the band.",
		ofHundred(d.FlipShare)+" no longer thrown to the far side")
}

// listenOn tells of heights whose first kick is too weak to trust, on the near
// side of the dead height: the far side is knowTheRig's.
func (s *study) listenOn() ([]Advice, error) {
	d := s.sheet.Dead
	weak := (d.WeakToM - d.WeakFromM - overlap(d.WeakFromM, d.WeakToM, d.FlipFromM, d.FlipToM)) / s.rig.Bag.LengthM
	if weak < leastGain || d.HeightM == nil {
		return nil, nil
	}
	what := "rocking and gravity after it"
	if s.rig.HasGyro() {
		what = "the rate of turning after it"
	}
	return one(ListenOn, weak, fmt.Sprintf("Between %.2f and %.2f m, listen past the first kick.", d.WeakFromM, d.WeakToM),
		fmt.Sprintf("near the dead height at %.2f m a blow kicks the sensor less than a tenth as hard as one at the centre of mass; bearing and height are in %s.", *d.HeightM, what),
		ofHundred(weak)+" with a bearing that does not rest on noise")
}

// addGyroscope tells what one would buy.
func (s *study) addGyroscope() ([]Advice, error) {
	gain := s.sheet.Whole.MisplacedShare - s.sheet.Whole.OtherMisplaced
	if s.rig.HasGyro() || gain < leastGain {
		return nil, nil
	}
	with := func(b Band) *float64 { return b.OtherSensor.HeightSDM }
	without := func(b Band) *float64 { return b.WorkableLimit.HeightSDM }
	because := fmt.Sprintf("the rate of turning over the kick gives the height at once: the workable limit of the height error falls from %s to %s cm where it is largest, misplaced strikes from %s to %s of 100",
		centimetres(largest(s.sheet.Bands, without)), centimetres(largest(s.sheet.Bands, with)), hundred(s.sheet.Whole.MisplacedShare), hundred(s.sheet.Whole.OtherMisplaced))
	if slow, fast := s.sheet.Whole.AnswerAfterS, s.sheet.Whole.OtherAfterS; fast != nil {
		because += fmt.Sprintf(", the wait for both tolerances from %s to %s", waitText(slow), waitText(fast))
	}
	return one(AddGyroscope, gain, "Add a gyroscope.", because+".", ofHundred(gain)+" more on the right face and band")
}

// mostWrongBand is the share of a band's strikes in the wrong band from which
// on it is called too narrow: what widthPerSD leaves.
const mostWrongBand = 0.2

// widenBands names the bands that are too narrow for the least error there.
func (s *study) widenBands() ([]Advice, error) {
	var out []Advice
	for _, b := range s.sheet.Bands {
		width := b.ToM - b.FromM
		share := width / s.rig.Bag.LengthM
		sd := b.WorkableLimit.HeightSDM
		if len(s.sheet.Bands) < 2 || b.WrongBandShare < mostWrongBand {
			continue
		}
		if sd == nil || b.NeedsWidthM > s.rig.Bag.LengthM/2 {
			out = append(out, Advice{SkipHeights, fmt.Sprintf("Expect no heights in band %s.", b.Name),
				fmt.Sprintf("the workable limit of the height error there is %s cm; even two bands on this bag would be too narrow for it.", centimetres(sd)),
				ofHundred(share*b.WrongBandShare) + " no longer told into a wrong band", 100 * share * b.WrongBandShare})
			continue
		}
		gain := share * (b.WrongBandShare - mostWrongBand)
		out = append(out, Advice{WidenBand, fmt.Sprintf("Make band %s %.2f m wide or more, or join it to its neighbour.", b.Name, b.NeedsWidthM),
			fmt.Sprintf("it is %.2f m wide and the workable limit of the height error there is %s cm: %s of its 100 strikes would be told into another band.",
				width, centimetres(sd), hundred(b.WrongBandShare)),
			ofHundred(gain) + " more in the right band", 100 * gain})
	}
	return out, nil
}

// usualRangesG are ranges that accelerometers come with.
func usualRangesG() []float64 { return []float64{2, 4, 8, 16, 32, 64, 100, 200, 400} }

// raiseRange compares the hard blow with what the accelerometer can read.
func (s *study) raiseRange() ([]Advice, error) {
	w, b, at := s.sheet.Whole, s.sheet.Blow, s.rig.Sensor.AccelRangeG
	if w.ClippedShare < leastGain {
		return nil, nil
	}
	want := w.HardestG
	for _, g := range usualRangesG() {
		if g >= want {
			want = g
			break
		}
	}
	return one(RaiseRange, w.ClippedShare, fmt.Sprintf("Choose an accelerometer range of %.0f g.", math.Ceil(want)),
		fmt.Sprintf("a blow of %.0f N, %s, reads up to %.0f g at this depth and the range ends at %g g, so that blows from %.0f N on can clip. A hook of %.0f N, %s, reads up to %.0f g. Both were measured on targets stiffer than a bag.",
			b.PeakN, b.PeakSource, w.HardestG, at, w.ClipsFromN, b.HookPeakN, b.HookSource, w.HardestG/b.PeakN*b.HookPeakN),
		ofHundred(w.ClippedShare)+" unclipped when hard")
}

// raiseGyroRange compares the rate of turning after the hard blow with what
// the gyroscope can read.
func (s *study) raiseGyroRange() ([]Advice, error) {
	w, at := s.sheet.Whole, s.rig.Sensor.GyroRangeDPS
	turnDPS := w.TurnRadps * 180 / math.Pi
	if !s.rig.HasGyro() || turnDPS <= at {
		return nil, nil
	}
	clipped := 1 - at/turnDPS // of the longer arm; the rate grows evenly with the distance from the centre of mass
	return one(RaiseGyroRange, clipped, fmt.Sprintf("Choose a gyroscope range of %.0f degrees/s or more.", math.Ceil(turnDPS/50)*50),
		fmt.Sprintf("a blow of %.0f N and %.0f N s at the bag's end turns it at %.0f degrees/s and the range ends at %g; twist comes on top.", s.sheet.Blow.PeakN, s.sheet.Blow.ImpulseNs, turnDPS, at),
		"up to "+ofHundred(clipped)+" unclipped when hard")
}

// leastSamples is how many samples of a contact a peak needs to be read within
// a tenth: at worst it falls midway between two, and a half sine then reads
// cos(pi / 2n) of it.
const leastSamples = 4.0

// raiseRate compares the rate with the length of a contact.
func (s *study) raiseRate() ([]Advice, error) {
	n := s.sheet.Whole.ContactSamples
	if n >= leastSamples {
		return nil, nil
	}
	missed := 1.0
	if n > 1 {
		missed = 1 - math.Cos(math.Pi/(2*n))
	}
	rate := math.Ceil(leastSamples/s.sheet.Blow.ContactS/100) * 100
	faster := s.workable(s.rig.HasGyro())
	faster.RateHz = min(enoughHz, rate)
	all, err := bound.AlongBag(faster, s.heights)
	if err != nil {
		return nil, err
	}
	gain := max(0, s.sheet.Whole.MisplacedShare-s.wholeMisplaced(all))
	gained := ofHundred(gain) + " more on the right face and band"
	if gain < leastGain {
		gained = "surer onsets and peaks, hardly a strike by itself"
	}
	return one(RaiseRate, gain, fmt.Sprintf("Sample at %.0f Hz or faster.", rate),
		fmt.Sprintf("a contact of %.0f ms holds %.1f samples at %g Hz; a peak that falls between two reads up to %.0f %% too small, and the onset is that much harder to place.",
			1000*s.sheet.Blow.ContactS, n, s.rig.Sensor.RateHz, 100*missed), gained)
}

// waitLonger finds how long to wait for both tolerances.
func (s *study) waitLonger() ([]Advice, error) {
	t := s.sheet.Tolerance
	bearing := slices.IndexFunc(s.sheet.Waits, func(w Wait) bool { return s.bearingWithin(w.Error) })
	both := slices.IndexFunc(s.sheet.Waits, func(w Wait) bool { return s.bearingWithin(w.Error) && s.heightWithin(w.Error) })
	if both == 0 {
		return nil, nil
	}
	at := both
	if both < 0 {
		at = len(s.sheet.Waits) - 1
	}
	early, late := s.sheet.Waits[0], s.sheet.Waits[at]
	gain := max(0, early.MisplacedShare-late.MisplacedShare)
	do := fmt.Sprintf("Wait %.0f ms after the onset before you answer.", 1000*late.AfterS)
	if both < 0 {
		do = fmt.Sprintf("Wait %.0f ms, and still expect coarse answers.", 1000*late.AfterS)
	}
	because := fmt.Sprintf("only then is the workable limit within %.3g degrees and %s cm everywhere on the bag: after %.0f ms it is %s degrees and %s cm, after %.0f ms %s and %s.",
		t.BearingDeg, centimetres(&t.HeightM), 1000*early.AfterS, degrees(early.Error.BearingSDDeg), centimetres(early.Error.HeightSDM),
		1000*late.AfterS, degrees(late.Error.BearingSDDeg), centimetres(late.Error.HeightSDM))
	if both < 0 {
		because = fmt.Sprintf("no wait up to %.0f ms brings the workable limit within %.3g degrees and %s cm everywhere: after it stand %s degrees and %s cm.",
			1000*late.AfterS, t.BearingDeg, centimetres(&t.HeightM), degrees(late.Error.BearingSDDeg), centimetres(late.Error.HeightSDM))
	}
	if bearing >= 0 && bearing != at {
		because += fmt.Sprintf(" The bearing alone can go out after %.0f ms.", 1000*s.sheet.Waits[bearing].AfterS)
	}
	return one(WaitLonger, gain, do, because, fmt.Sprintf("%s more on the right face and band than after %.0f ms", ofHundred(gain), 1000*early.AfterS))
}

// measureMass tells what an estimated spread of mass costs.
func (s *study) measureMass() ([]Advice, error) {
	if !s.sheet.Mass.Estimated {
		return nil, nil
	}
	known := s.workable(s.rig.HasGyro())
	prior := *known.Prior
	prior.CentreM, prior.GyrationM = 0, 0
	known.Prior = &prior
	all, err := bound.AlongBag(known, s.heights)
	if err != nil {
		return nil, err
	}
	spared := max(0, s.sheet.Whole.MisplacedShare-s.wholeMisplaced(all))
	gain, gained := spared, ofHundred(spared)+" more on the right face and band"
	because := "both are worked out from core and filling."
	if d := s.sheet.Dead; d.DoubtToM > d.DoubtFromM {
		because += fmt.Sprintf(" A centre of mass up to %.0f cm higher or lower moves the dead height: from %.2f to %.2f m the first kick may go either way.", 100*d.DoubtM, d.DoubtFromM, d.DoubtToM)
		if share := (d.DoubtToM - d.DoubtFromM) / s.rig.Bag.LengthM; share > gain {
			gain, gained = share, ofHundred(share)+" whose first kick goes a known way"
		}
	}
	if gain < leastGain {
		return nil, nil
	}
	return one(MeasureMass, gain, "Balance the bag on a bar and give centre_of_mass_depth_m; radius_of_gyration_m too.", because, gained)
}

// largest is the largest of some errors; nil where one cannot be told.
func largest(bands []Band, of func(Band) *float64) *float64 {
	most := 0.0
	for _, b := range bands {
		x := of(b)
		if x == nil {
			return nil
		}
		most = max(most, *x)
	}
	return &most
}

// hundred writes a share as a number in a hundred.
func hundred(share float64) string {
	if x := 100 * share; x < 9.95 && x > 0 {
		return strconv.FormatFloat(x, 'f', 1, 64)
	}
	return strconv.FormatFloat(100*share, 'f', 0, 64)
}

func ofHundred(share float64) string { return hundred(share) + " of 100 strikes" }

// waitText writes a wait that may not be enough.
func waitText(afterS *float64) string {
	if afterS == nil {
		return fmt.Sprintf("more than %.0f ms", 1000*slices.Max(waitsS()))
	}
	return fmt.Sprintf("%.0f ms", 1000**afterS)
}

// centimetres writes a length that may not be told.
func centimetres(m *float64) string {
	if m == nil {
		return "any number of"
	}
	return strconv.FormatFloat(100**m, 'f', 1, 64)
}

// degrees writes an angle that may not be told.
func degrees(deg *float64) string {
	if deg == nil {
		return "any number of"
	}
	return strconv.FormatFloat(*deg, 'f', 1, 64)
}
