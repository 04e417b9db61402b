package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/calibrate"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
)

type calibrateFlags struct {
	out     string
	inPlace bool
	reading reading
}

func newRigCalibrate(a *app) *cobra.Command {
	var f calibrateFlags
	cmd := &cobra.Command{
		Use:   "calibrate RIG.toml LOG...",
		Short: "Measure a sensor's bias, scale, alignment and noise in still logs",
		Long: `Measure what a sensor reads wrong from logs in which it lies still, of any
dialect that import reads. For all of it take board and battery out of the bag,
fix them in a box with square corners, and let it lie some ten seconds on each of
its six faces, on a level table; one log or several. The axes as the board has
them, not the bag's, count here.

Six faces tell bias, scales and how the axes lie; poses of any kind tell bias and
scales by the size of gravity, which is taken as standard. Fewer tell less: what
they do not tell is said and left out. A log of the hanging bag at rest tells
the gyroscope's bias and the noise of both. The noise is read from the Allan
deviation of the longest still stretch: a hanging bag's own motion adds to its
density, and ten minutes at rest on a table show how the bias drifts.

Without -o or --in-place nothing is written. Comments and order of the rig file
are kept. Logs in a corpus stay as they were logged: what reads them applies the
calibration of the rig file that they were imported with, so raise revision and
import again to make use of a new one.`,
		Example: "strikerose rig calibrate hall.toml friday.bin.zst -o hall-calibrated.toml",
		Args:    takes(2, -1, "the rig file or a log"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o, err := f.reading.options(cmd)
			if err != nil {
				return err
			}
			if f.inPlace && f.out != "" {
				return usagef(cmd, "--in-place and -o both say where to write: give one of them")
			}
			if f.out == "-" && a.json {
				return usagef(cmd, "-o - and --json both want standard output: give one of them")
			}
			return runRigCalibrate(cmd.Context(), a, f, o, args[0], args[1:])
		},
	}
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the rig `FILE` to write, a copy with the new values")
	cmd.Flags().BoolVar(&f.inPlace, "in-place", false, "write the new values into the rig file itself")
	f.reading.flags(cmd)
	return cmd
}

// calibrated is what calibrate says.
type calibrated struct {
	Rig           string           `json:"rig"`                 // key of the rig, NAME-rREV
	Logs          []string         `json:"logs"`                // paths of the logs
	StillS        float64          `json:"still_s"`             // how long the sensor lay still in them, seconds, at least 0
	Poses         []calibrate.Pose `json:"poses"`               // ways in which it lay still
	Accelerometer calibrate.Fit    `json:"accelerometer"`       // what those tell of the accelerometer
	Gyroscope     *calibrate.Bias  `json:"gyroscope,omitempty"` // what the gyroscope reads at rest; absent without one
	Noise         []axisNoise      `json:"noise"`               // noise of each axis, from the longest stretch; empty where all are too short
	Wrote         string           `json:"wrote,omitempty"`     // path of the rig file that was written; absent where none was
}

// axisNoise is the noise of one axis of a sensor, in m/s² or rad/s.
type axisNoise struct {
	Axis string `json:"axis"` // axis of the sensor, one of ax, ay, az, gx, gy or gz
	Unit string `json:"unit"` // unit of a reading, one of m/s2 or rad/s
	calibrate.Noise
	Curve []calibrate.Allan `json:"curve"` // Allan deviations by rising averaging time
}

func runRigCalibrate(ctx context.Context, a *app, f calibrateFlags, o intake.Options, path string, logs []string) error {
	r, text, err := readRig(path)
	if err != nil {
		return err
	}
	o.AnyPose = true
	done := calibrated{Rig: r.Key(), Logs: logs, Noise: []axisNoise{}}
	var stills []calibrate.Still
	longest := 0.0
	for _, log := range logs {
		res, err := readLog(ctx, a, log, r, o)
		if err != nil {
			return fmt.Errorf("rig calibrate: %w", err)
		}
		for _, note := range res.Notes {
			a.note("%s: %s", log, note)
		}
		found := calibrate.Stretches(&res.Signal, res.Session.RateHz)
		stills = append(stills, found...)
		best := 0.0
		for _, s := range found {
			done.StillS += s.Seconds
			best = max(best, s.Seconds)
		}
		if best > longest {
			longest = best
			done.Noise = noiseOf(calibrate.Curves(&res.Signal, found, res.Session.RateHz))
		}
		if res.Signal.HasGyro() && len(found) > 0 {
			done.Gyroscope = new(calibrate.Bias)
		}
	}
	if len(stills) == 0 {
		return withHint(fmt.Errorf("rig calibrate: %s: the sensor never lies still for more than a second", strings.Join(logs, ", ")),
			"let it lie some ten seconds on each face, without a hand on it")
	}
	done.Poses = calibrate.Poses(stills)
	done.Accelerometer = calibrate.Accelerometer(done.Poses)
	if done.Gyroscope != nil {
		*done.Gyroscope, _ = calibrate.Gyroscope(stills)
	}
	if f.inPlace {
		f.out = path
	}
	if f.out != "" {
		if err := writeRig(a, f.out, path, text, done.on(r)); err != nil {
			return fmt.Errorf("rig calibrate: %w", err)
		}
		done.Wrote = f.out
	}
	if a.json {
		return printJSON(a.out, done)
	}
	if f.out == "-" {
		return nil
	}
	if err := done.print(a.out); err != nil {
		return err
	}
	for _, note := range done.Accelerometer.Notes {
		a.note("%s", note)
	}
	switch f.out {
	case "":
		a.note("nothing was written: -o FILE or --in-place writes it into a rig file")
	default:
		a.note("wrote %s: raise revision in it before logs are imported with it", f.out)
	}
	return nil
}

func readLog(ctx context.Context, a *app, path string, r *rig.Rig, o intake.Options) (*intake.Result, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	size := int64(-1)
	if info, err := f.Stat(); err == nil {
		size = info.Size()
	}
	p := a.progress("reading "+path, size, true)
	defer p.Done()
	return intake.Read(ctx, f, path, r, o, p)
}

// noiseOf reads the curves of the axes, accelerometer first.
func noiseOf(curves [][]calibrate.Allan) []axisNoise {
	out := []axisNoise{}
	for i, curve := range curves {
		n := axisNoise{Axis: [...]string{"ax", "ay", "az", "gx", "gy", "gz"}[i], Unit: "m/s2", Curve: curve}
		if i >= 3 {
			n.Unit = "rad/s"
		}
		ok := false
		if n.Noise, ok = calibrate.ReadNoise(curve); ok {
			out = append(out, n)
		}
	}
	return out
}

// on returns the rig with what was found. What the logs did not tell stays as
// it was.
func (c *calibrated) on(r *rig.Rig) *rig.Rig {
	to := *r
	var k rig.Calibration
	if r.Calibration != nil {
		k = *r.Calibration
	}
	if fit := c.Accelerometer.Calibration(); fit.AccelBiasMPS2 != nil {
		k.AccelBiasMPS2, k.AccelMatrix = fit.AccelBiasMPS2, fit.AccelMatrix
	}
	if c.Gyroscope != nil {
		k.GyroBiasRadps = nil
		for _, v := range c.Gyroscope.Radps {
			k.GyroBiasRadps = append(k.GyroBiasRadps, significant(v, 4))
		}
	}
	if v := meanNoise(c.Noise, "m/s2"); v > 0 {
		to.Sensor.AccelNoiseMPS2 = significant(v, 3)
	}
	if v := meanNoise(c.Noise, "rad/s"); v > 0 {
		k.GyroNoiseRadps = significant(v, 3)
	}
	if k.AccelBiasMPS2 != nil || k.GyroBiasRadps != nil {
		to.Calibration = &k
	}
	return &to
}

// meanNoise is the root mean square of the axes' noise of a reading.
func meanNoise(axes []axisNoise, unit string) float64 {
	sum, n := 0.0, 0.0
	for _, x := range axes {
		if x.Unit == unit {
			sum += float64(x.Reading * x.Reading)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / n)
}

// significant rounds to some digits.
func significant(v float64, digits int) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	if err != nil {
		return v
	}
	return rounded + 0 // no negative zero
}

// writeRig writes a rig file's text so that it says what a rig says.
func writeRig(a *app, out, path string, text []byte, to *rig.Rig) error {
	changed, err := rig.Rewrite(text, path, to)
	if err != nil {
		return err
	}
	return a.put(out, func(w io.Writer) error {
		_, err := w.Write(changed)
		return err
	})
}

func (c *calibrated) print(w io.Writer) error {
	var rows [][]string
	for i, p := range c.Poses {
		up := p.Face
		if up == "" {
			up = "-"
		}
		length := math.Sqrt(p.Accel[0]*p.Accel[0] + p.Accel[1]*p.Accel[1] + p.Accel[2]*p.Accel[2])
		rows = append(rows, []string{strconv.Itoa(i + 1), up, fixed(p.Seconds, 1), fixed(p.Accel[0], 4), fixed(p.Accel[1], 4), fixed(p.Accel[2], 4),
			fixed(length/dataset.StandardGravity, 4)})
	}
	err := printTable(w, []string{"pose", "up", "still_s", "ax_mps2", "ay_mps2", "az_mps2", "size_g"}, rows)
	fit := c.Accelerometer
	if fit.From != calibrate.FromNothing {
		rows = nil
		for k := range 3 {
			row := []string{"a" + "xyz"[k:k+1], fixed(fit.BiasMPS2[k], 4), "", fixed(fit.Matrix[k][0], 5), fixed(fit.Matrix[k][1], 5), fixed(fit.Matrix[k][2], 5), ""}
			if fit.BiasSEMPS2 != nil {
				row[2], row[6] = fixed(fit.BiasSEMPS2[k], 4), fixed(fit.MatrixSE[k][k], 5)
			}
			rows = append(rows, row)
		}
		fmt.Fprintf(w, "\naccelerometer, from %s: true = matrix (reading - bias);\nresidual %.4f m/s², %s to spare\n", fit.From, fit.RMSMPS2, counted(fit.Freedom, "reading"))
		err = errors.Join(err, printTable(w, []string{"axis", "bias_mps2", "error", "matrix", "", "", "error"}, rows))
	} else {
		fmt.Fprintln(w, "\naccelerometer: bias and scale are not told by these poses")
	}
	if g := c.Gyroscope; g != nil {
		rows = nil
		for k := range 3 {
			row := []string{"g" + "xyz"[k:k+1], fixed(g.Radps[k], 6), ""}
			if g.SERadps != nil {
				row[2] = fixed(g.SERadps[k], 6)
			}
			rows = append(rows, row)
		}
		fmt.Fprintf(w, "\ngyroscope, %.1f s at rest\n", g.Seconds)
		err = errors.Join(err, printTable(w, []string{"axis", "bias_radps", "error"}, rows))
	}
	rows = nil
	for _, n := range c.Noise {
		drift := fmt.Sprintf("%.2g at %.3g s", n.Instability, n.InstabilityTauS)
		if n.InstabilityLimit {
			drift = fmt.Sprintf("below %.2g", n.Instability)
		}
		rows = append(rows, []string{n.Axis, dataset.UnitText(n.Unit), fmt.Sprintf("%.4g", n.Reading),
			fmt.Sprintf("%.3g", n.Density), fmt.Sprintf("%.3g to %.3g", n.DensityLow, n.DensityHigh), drift})
	}
	fmt.Fprintln(w, "\nnoise; density is per root hertz, with its 90 % interval")
	return errors.Join(err, printTable(w, []string{"axis", "unit", "of_a_reading", "density", "interval", "bias_instability"}, rows))
}
