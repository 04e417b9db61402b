package main

import (
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"strikerose/dataset/intake"
)

// reading holds the flags that say how a log is to be read. What is not given
// is recognised, taken from the rig file or guessed.
type reading struct {
	dialect, timeUnit, accelUnit, gyroUnit string
	separator                              string
	decimalComma                           bool
	maxDamaged                             float64
}

func (r *reading) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&r.dialect, "dialect", "", "`NAME` of the way the log is written: "+strings.Join(dialectNames(), ", "))
	f.StringVar(&r.timeUnit, "time-unit", "", "`UNIT` of the stamps: us, ms, s")
	f.StringVar(&r.accelUnit, "accel-unit", "", "`UNIT` of the accelerometer: counts, g, mg, m/s2")
	f.StringVar(&r.gyroUnit, "gyro-unit", "", "`UNIT` of the gyroscope: counts, dps, rad/s")
	f.StringVar(&r.separator, "separator", "", "`CHARACTER` between columns: comma, semicolon, tab, space or the character itself")
	f.BoolVar(&r.decimalComma, "decimal-comma", false, "numbers are written with a decimal comma; =false: with a point")
	f.Float64Var(&r.maxDamaged, "max-damaged", intake.DefaultMaxDamagedShare, "`SHARE` of damaged records up to which a log is accepted, 0 to 1")
}

func (r *reading) options(cmd *cobra.Command) (intake.Options, error) {
	o := intake.Options{Dialect: r.dialect, TimeUnit: r.timeUnit, AccelUnit: r.accelUnit, GyroUnit: r.gyroUnit}
	for _, c := range []struct {
		flag, value string
		allowed     []string
	}{
		{"time-unit", r.timeUnit, []string{"us", "ms", "s"}},
		{"accel-unit", r.accelUnit, []string{"counts", "g", "mg", "m/s2"}},
		{"gyro-unit", r.gyroUnit, []string{"counts", "dps", "rad/s"}},
		{"dialect", r.dialect, dialectNames()},
	} {
		if c.value != "" && !slices.Contains(c.allowed, c.value) {
			return o, usagef(cmd, "--%s %q is unknown: give one of %s", c.flag, c.value, strings.Join(c.allowed, ", "))
		}
	}
	switch r.separator {
	case "":
	case "comma":
		o.Separator = ','
	case "semicolon":
		o.Separator = ';'
	case "tab", `\t`:
		o.Separator = '\t'
	case "space":
		o.Separator = ' '
	default:
		if utf8.RuneCountInString(r.separator) != 1 {
			return o, usagef(cmd, "--separator %q is not one character: give comma, semicolon, tab or space", r.separator)
		}
		o.Separator, _ = utf8.DecodeRuneInString(r.separator)
	}
	if cmd.Flags().Changed("decimal-comma") {
		o.DecimalComma = &r.decimalComma
	}
	if cmd.Flags().Changed("max-damaged") {
		if !(r.maxDamaged > 0 && r.maxDamaged <= 1) {
			return o, usagef(cmd, "--max-damaged %g is no share: give a number above 0 and up to 1, such as 0.5", r.maxDamaged)
		}
		o.MaxDamagedShare = r.maxDamaged
	}
	return o, nil
}

func dialectNames() []string {
	var names []string
	for _, d := range intake.Dialects() {
		names = append(names, d.Name)
	}
	return names
}
