package firmware

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/features/chain/board"
	"strikerose/models"
	"strikerose/models/firmware/answer"
)

// Profiles of arithmetic.
const (
	Fixed   = "fixed"
	Float32 = "float32"
)

// Profiles lists them.
func Profiles() []string { return []string{Fixed, Float32} }

// Device is a detector on one rig as a board holds it.
type Device struct {
	Profile string
	Model   *models.Model // cut to the rig's own kind
	Rig     *rig.Rig
	Table   answer.Table
	Ring    int // samples that it keeps
	Form    string
	stated  models.Stated
	units   board.Units
}

// NewDevice brings a detector to a board's numbers. It refuses one that cannot run
// on a board, and says why.
func NewDevice(d models.Detector, r *rig.Rig, profile string) (*Device, error) {
	whole, ok := d.(*models.Model)
	if !ok {
		return nil, fmt.Errorf("board: %T is not one of this program's detectors", d)
	}
	if profile != Fixed && profile != Float32 {
		return nil, fmt.Errorf("board: profile %q: give %s or %s", profile, Fixed, Float32)
	}
	m := whole.For(r)
	out := &Device{Profile: profile, Model: m, Rig: r, stated: m.CertaintyFor(r), units: board.UnitsOf(r)}
	name := m.Info().Name
	refuse := func(err error) (*Device, error) {
		return nil, fmt.Errorf("board: %s on rig %s: %w", name, r.Key(), err)
	}
	if r.Faces < 1 || r.Faces > 255 {
		return refuse(fmt.Errorf("%d faces: a board counts 1 to 255: mend the rig file", r.Faces))
	}
	if r.Bag.LengthM > 2 {
		return refuse(fmt.Errorf("a bag of %g m: a board counts to 2: mend length_m in the rig file", r.Bag.LengthM))
	}
	if m.Corrects(r.Key()) {
		return refuse(errors.New("what adapting corrects beyond the yaw offset is not written in C: adapt again with --board"))
	}
	n := &numbers{rig: r, units: out.units}
	kind, level := int32(0), true
	gyro := r.HasGyro()
	parameters := m.Parameters()
	switch p := parameters.(type) {
	case *models.PeakArctangent:
		kind, level, gyro = answer.KindPeak, false, false
	case *models.KickDirection:
		kind = answer.KindRatio
	case *models.Pendulum:
		parameters, kind = p.Ratio(r), answer.KindRatio
	case *models.ComplexRidge:
		out.Form = p.Form
		if ratio := p.Ratio(r); ratio != nil {
			parameters, kind = ratio, answer.KindRatio
		} else {
			parameters, kind, gyro = p.Accelerometer, answer.KindNet, false
		}
	case *models.Cart:
		kind = answer.KindTree
		if p.OwnRatio(r) == nil && len(p.Odd) == 0 {
			gyro = false
		}
	default:
		why := m.Info().NotBoard
		if why == "" {
			why = "no C is written for it"
		}
		return nil, fmt.Errorf("board: %s is not for boards: %s: train one of %s", name, why, strings.Join(Detectors(), ", "))
	}
	wait := m.Info().Wait(gyro)
	soon := kickToMs
	switch {
	case kind == answer.KindPeak:
		soon = pulseToMs
	case kind == answer.KindNet || kind == answer.KindTree && parameters.(*models.Cart).OwnRatio(r) == nil:
		soon = 0 // the contact alone does not tell
	case gyro:
		soon = tipToMs
	}
	var err error
	if n.plan, err = board.NewPlan(r, board.Wants{PreMs: 300, PostMs: wait, SoonMs: soon, Gyro: gyro, Level: level}); err != nil {
		return refuse(err)
	}
	t := &n.table
	t.Chain, t.Kind = n.plan.Table, kind
	n.common(m, out.stated)
	switch p := parameters.(type) {
	case *models.PeakArctangent:
		t.Sooner = answer.EarlyPeak
	case *models.KickDirection:
		n.kickDirection()
	case *models.Ratio:
		n.ratio(p)
		n.moved()
	case *models.Accelerometer:
		n.align(&p.Aligner)
		n.nets(p)
	case *models.Cart:
		n.align(&p.Aligner)
		n.trees(p)
		if t.Direction == answer.FromForms {
			n.moved()
		}
	}
	if len(n.faults) > 0 {
		return refuse(errors.Join(n.faults...))
	}
	if profile == Float32 {
		t.Floats = 1
		n.float()
	}
	n.close()
	// As much as the detector reads before the onset.
	pre := -quietFromMs
	for _, s := range n.stretches {
		pre = math.Max(pre, -s.fromMs)
	}
	if longest, _ := features.Longest(); pre > longest {
		return refuse(fmt.Errorf("it reads %g ms before the onset: at most %g", pre, longest))
	}
	final, err := board.NewPlan(r, board.Wants{PreMs: pre, PostMs: wait, SoonMs: soon, Gyro: gyro, Level: level})
	if err != nil {
		return refuse(err)
	}
	out.Table, out.Ring = n.table, final.Ring
	return out, nil
}

// common sets what all detectors share.
func (n *numbers) common(m *models.Model, s models.Stated) {
	t := &n.table
	yaw, _ := m.YawDeg(n.rig.Key())
	t.Yaw = int32(uint32(int64(math.Round(bearing.Wrap180(yaw+n.plan.MountDeg) / 360 * (1 << 32)))))
	t.Faces = int32(n.rig.Faces)
	t.Middle, t.Length = toInt32(n.rig.Bag.LengthM*8000), toInt32(n.rig.Bag.LengthM*16000)
	if !(s.Usual().BearingSDDeg <= s.SureSDDeg(n.rig.Faces)) {
		t.Wide = 1
	}
	t.Weak = q20(models.WeakestKickMPS)
	if t.Kind == answer.KindPeak { // of such a kick, half a sine of 14 ms
		t.Weak = toInt32(100 * models.WeakestKickMPS * math.Pi / 2 / 0.014)
	}
	t.Pulse = n.plan.Whole(pulseFromMs, pulseToMs)
	t.Quiet = n.plan.Stretch(quietFromMs, quietToMs)
	t.Kick = n.plan.Stretch(kickFromMs, kickToMs)
	t.PeakScale = toInt32(n.units.AccelMPS2 * 100 * 4096)
	t.KickScale = toInt32(n.units.AccelMPS2 * (kickToMs - kickFromMs) / 1000 / (float64(t.Kick.Samples()) / 256) / 16 * (1 << 40))
}

// New makes a detector that runs.
func (v *Device) New() *answer.Detector { return answer.New(&v.Table, v.Ring) }
