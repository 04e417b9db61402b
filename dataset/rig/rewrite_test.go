package rig_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/rig"
)

// Each way of writing a table: what changes stands where it should, and
// nothing else moves.
func TestRewrite(t *testing.T) {
	const head = `# mine
name = "garage" # of the club
revision = 1
bag = { mass_kg = 35.0, length_m = 1.0, diameter_m = 0.35 } # weighed
hang.chain_m = 0.48 # from the swivel
hang.strap_m = 0.08

[sensor]
depth_m = 0.06
rate_hz = 1000
accel_range_g = 16
axes = { x = "90", y = "0", z = "up" }
yaw_deg = 0.0   # not known yet
`
	calibrate := func(r *rig.Rig) {
		r.Calibration = &rig.Calibration{AccelBiasMPS2: []float64{0.1, -0.25, 1e-7}, AccelMatrix: [][]float64{{1, 0, 0}, {0, 1.25, 0}, {0, 0, 1}}}
	}
	for _, c := range []struct {
		name, text string
		change     func(r *rig.Rig)
		old, new   string // one replacement makes the text wanted
	}{
		{"nothing", head, func(r *rig.Rig) {}, "", ""},
		{"a number with a comment", head, func(r *rig.Rig) { r.Sensor.YawDeg = -3.5 }, "yaw_deg = 0.0   #", "yaw_deg = -3.5   #"},
		{"a number of a dotted table", head, func(r *rig.Rig) { r.Hang.ChainM = 0.5 }, "chain_m = 0.48 #", "chain_m = 0.5 #"},
		{"a new key of a dotted table", head, func(r *rig.Rig) { r.Hang.ChainMassKg = 2 },
			"hang.strap_m = 0.08\n", "hang.strap_m = 0.08\nhang.chain_mass_kg = 2.0\n"},
		{"a number in braces", head, func(r *rig.Rig) { r.Bag.MassKg = 36 }, "mass_kg = 35.0,", "mass_kg = 36.0,"},
		{"a new key in braces", head, func(r *rig.Rig) { r.Bag.CoverMassKg = 2 }, "diameter_m = 0.35 }", "diameter_m = 0.35, cover_mass_kg = 2.0 }"},
		{"a new key", head, func(r *rig.Rig) { r.Sensor.AccelNoiseMPS2 = 0.06 },
			"# not known yet\n", "# not known yet\naccel_noise_mps2 = 0.06\n"},
		{"a key taken out", head + "accel_noise_mps2 = 0.06 # once\n", func(r *rig.Rig) { r.Sensor.AccelNoiseMPS2 = 0 }, "accel_noise_mps2 = 0.06 # once\n", ""},
		{"a new table", head, calibrate, "# not known yet\n",
			"# not known yet\n\n[calibration]\naccel_bias_mps2 = [ 0.1, -0.25, 1e-07 ]\naccel_matrix = [ [ 1.0, 0.0, 0.0 ], [ 0.0, 1.25, 0.0 ], [ 0.0, 0.0, 1.0 ] ]\n"},
		{"a list over some lines", head + "[calibration]\naccel_bias_mps2 = [\n  1, # x\n  2,\n  3 ] # measured\n[motion]\nswing_hz = 0.5\n",
			func(r *rig.Rig) { r.Calibration.AccelBiasMPS2 = []float64{1, 2, 4} }, "[\n  1, # x\n  2,\n  3 ] # measured", "[ 1.0, 2.0, 4.0 ] # measured"},
		{"an empty table", head + "[motion] # of March\n# still to come\n[log]\n", func(r *rig.Rig) { r.Motion = &rig.Motion{TwistHz: 1} },
			"[motion] # of March\n", "[motion] # of March\ntwist_hz = 1.0\n"},
		{"no line end", strings.TrimSuffix(head, "   # not known yet\n"), func(r *rig.Rig) { r.Motion = &rig.Motion{TwistHz: 1} },
			"yaw_deg = 0.0", "yaw_deg = 0.0\n\n[motion]\ntwist_hz = 1.0\n"},
		{"no line end after a table", strings.TrimSuffix(head, "   # not known yet\n"), func(r *rig.Rig) { r.Sensor.AccelNoiseMPS2 = 0.06 },
			"yaw_deg = 0.0", "yaw_deg = 0.0\naccel_noise_mps2 = 0.06\n"},
	} {
		for how, as := range map[string]func(string) string{
			"lines":           func(s string) string { return s },
			"CRLF":            func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") },
			"byte order mark": func(s string) string { return "\xef\xbb\xbf" + s },
		} {
			to := parse(t, c.text)
			c.change(to)
			got, err := rig.Rewrite([]byte(as(c.text)), "garage.toml", to)
			if err != nil {
				t.Errorf("%s, %s: %v", c.name, how, err)
				continue
			}
			if diff := cmp.Diff(as(strings.Replace(c.text, c.old, c.new, 1)), string(got)); diff != "" {
				t.Errorf("%s, %s (-want +got):\n%s", c.name, how, diff)
			}
		}
	}
}

// What Rewrite cannot do it refuses, rather than leaving it out.
func TestRewriteRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		change func(r *rig.Rig)
		want   string
	}{
		"a name":            {func(r *rig.Rig) { r.Name = "hall" }, `garage.toml: cannot be changed in place: name: "garage" against "hall": change it by hand`},
		"no number":         {func(r *rig.Rig) { r.Sensor.YawDeg = math.NaN() }, "sensor.yaw_deg"},
		"an impossible one": {func(r *rig.Rig) { r.Bag.MassKg = -1 }, "bag.mass_kg is -1"},
		"bands":             {func(r *rig.Rig) { r.Bands = r.Bands[1:] }, "bands"},
	} {
		to := parse(t, garage)
		c.change(to)
		if got, err := rig.Rewrite([]byte(garage), "garage.toml", to); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q; text:\n%s", name, err, c.want, got)
		}
	}
	if _, err := rig.Rewrite([]byte("name = 3"), "garage.toml", parse(t, garage)); err == nil || !strings.Contains(err.Error(), "garage.toml:1:1") {
		t.Errorf("a broken file: error %v", err)
	}
}

// Whatever a rig file looks like, a rewritten one says what was asked for and
// keeps every comment of a line of its own.
func FuzzRewrite(f *testing.F) {
	f.Add([]byte(garage), 1.5, true)
	f.Add([]byte(strings.ReplaceAll(garage, "\n", "\r\n")), -0.25, false)
	f.Add(rig.Template("bag"), 0.0, true)
	f.Add([]byte("name='a'\nrevision=1\nbag={mass_kg=9,length_m=1,diameter_m=0.3}\nhang={chain_m=1,strap_m=0}\nsensor={depth_m=0,rate_hz=100,accel_range_g=8,axes={x='90',y='0',z='up'}}\nmotion={}"), 2.0, true)
	f.Fuzz(func(t *testing.T, data []byte, v float64, calibrate bool) {
		to, err := rig.Parse(data, "a.toml")
		if err != nil {
			return
		}
		to.Sensor.YawDeg = v
		to.Motion = &rig.Motion{TwistHz: math.Abs(v)}
		if calibrate {
			to.Calibration = &rig.Calibration{AccelBiasMPS2: []float64{v, 0, 1}}
		}
		got, err := rig.Rewrite(data, "a.toml", to)
		if err != nil {
			return
		}
		back, err := rig.Parse(got, "a.toml")
		if err != nil || !back.Equal(to) {
			t.Fatalf("%q\nbecame\n%q\n%v", data, got, err)
		}
		if to.Calibration != nil || strings.Contains(string(data), `"""`) || strings.Contains(string(data), "'''") || strings.Contains(string(data), "[\n") {
			return // what looks like a comment may be none, or stand in a value
		}
		for _, line := range strings.Split(string(data), "\n") {
			if strings.HasPrefix(line, "#") && !strings.Contains(string(got), line) {
				t.Fatalf("%q\nlost %q:\n%q", data, line, got)
			}
		}
	})
}
