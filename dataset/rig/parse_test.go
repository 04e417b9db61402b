package rig_test

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// garage is a complete rig file; tests change it.
const garage = `name = "garage"
revision = 1
faces = 6
bands = [ {name="low", to_m=0.35}, {name="mid", to_m=0.65}, {name="high"} ]
[bag]
mass_kg = 35.0
length_m = 1.0
diameter_m = 0.35
cover_mass_kg = 2.2
centre_of_mass_depth_m = 0.5
radius_of_gyration_m = 0.27
[core]
mass_kg = 19.0
length_m = 0.7
diameter_m = 0.14
top_depth_m = 0.15
[hang]
chain_m = 0.48
strap_m = 0.08
[sensor]
depth_m = 0.06
rate_hz = 1000
accel_range_g = 16
gyro_range_dps = 2000
accel_lsb_per_g = 2048
gyro_lsb_per_dps = 16.4
accel_noise_mps2 = 0.06
axes = { x = "90", y = "0", z = "up" }
yaw_deg = 0.0
[log]
time_unit = "us"
accel_unit = "counts"
gyro_unit = "counts"
[log.frame]
magic = "a55a"
fields = ["u32le t", "i16le ax", "i16le ay", "i16le az", "i16le gx", "i16le gy", "i16le gz"]
checksum = "xor8"
`

func parse(t testing.TB, text string) *rig.Rig {
	t.Helper()
	r, err := rig.Parse([]byte(text), "rig.toml")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// edit replaces one thing in the garage's file, which has to be there.
func edit(t testing.TB, old, new string) string {
	t.Helper()
	if strings.Count(garage, old) != 1 {
		t.Fatalf("the file has %q %d times, want once", old, strings.Count(garage, old))
	}
	return strings.Replace(garage, old, new, 1)
}

func TestParse(t *testing.T) {
	com, k := 0.5, 0.27
	want := &rig.Rig{
		Name: "garage", Revision: 1, Faces: 6,
		Bands:  []rig.Band{{Name: "low", ToM: 0.35}, {Name: "mid", ToM: 0.65}, {Name: "high"}},
		Bag:    rig.Bag{MassKg: 35, LengthM: 1, DiameterM: 0.35, CoverMassKg: 2.2, CentreOfMassDepthM: &com, RadiusOfGyrationM: &k},
		Core:   &rig.Core{MassKg: 19, LengthM: 0.7, DiameterM: 0.14, TopDepthM: 0.15},
		Hang:   rig.Hang{ChainM: 0.48, StrapM: 0.08},
		Sensor: rig.Sensor{DepthM: 0.06, RateHz: 1000, AccelRangeG: 16, GyroRangeDPS: 2000, AccelLSBPerG: 2048, GyroLSBPerDPS: 16.4, AccelNoiseMPS2: 0.06, Axes: rig.Axes{X: "90", Y: "0", Z: "up"}},
		Log: rig.LogHint{TimeUnit: "us", AccelUnit: "counts", GyroUnit: "counts", Frame: &rig.Frame{
			Magic: "a55a", Fields: []string{"u32le t", "i16le ax", "i16le ay", "i16le az", "i16le gx", "i16le gy", "i16le gz"}, Checksum: "xor8"}},
	}
	for name, text := range map[string]string{
		"as it is":          garage,
		"with a mark":       "\xef\xbb\xbf" + garage,
		"with CRLF":         strings.ReplaceAll(garage, "\n", "\r\n"),
		"dotted keys":       edit(t, "[hang]\nchain_m = 0.48\nstrap_m = 0.08\n", "") + "[hang]\n'chain_m' = 0.48\n\"strap_m\" = 0.08\n",
		"bands as tables":   edit(t, `bands = [ {name="low", to_m=0.35}, {name="mid", to_m=0.65}, {name="high"} ]`, "") + "[[bands]]\nname='low'\nto_m=0.35\n[[bands]]\nname='mid'\nto_m=0.65\n[[bands]]\nname='high'\n",
		"whole for decimal": edit(t, "mass_kg = 35.0", "mass_kg = 35"),
		"faces left out":    edit(t, "faces = 6\n", ""),
	} {
		if diff := cmp.Diff(want, parse(t, text)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

func TestParseFillsIn(t *testing.T) {
	r := parse(t, edit(t, `bands = [ {name="low", to_m=0.35}, {name="mid", to_m=0.65}, {name="high"} ]`, ""))
	if len(r.Bands) != 3 || r.BandOf(0.2) != "low" || r.BandOf(0.5) != "mid" || r.BandOf(0.7) != "high" {
		t.Errorf("bands left out give %+v, want thirds", r.Bands)
	}
}

// Each case is one fault, the whole error, and nothing beside it.
func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{"revision = 1", "revison = 1", "1:1: revision is missing: add revision = 1, and raise it when the sensor or the filling moves\n" +
			`2:1: unknown key "revison": did you mean revision?`},
		{"revision = 1", "revision = 0", "2:1: revision is 0: count from 1"},
		{"revision = 1", "revision = 1.5", "2:1: revision is a number: write a whole number"},
		{`name = "garage"`, `name = "garage-r2"`, `1:1: name "garage-r2" ends like a revision: leave the end out and use the key revision`},
		{`name = "garage"`, `name = "my garage"`, `1:1: name "my garage" is not a rig name: use up to 64 letters, digits and dashes`},
		{`name = "garage"`, `name = "../x"`, `1:1: name "../x" is not a rig name: use up to 64 letters, digits and dashes`},
		{`name = "garage"`, "", "1:1: name is missing: add a line such as name = \"garage\""},
		{"faces = 6", "faces = 1", "3:1: faces is 1: divide the bag into 2 to 72 equal faces; 6 is usual"},
		{"faces = 6", `faces = "six"`, "3:1: faces is text: write a whole number"},
		{"to_m=0.65", "to_m=0.3", `4:49: band "mid" ends at 0.3 m where the one below ends at 0.35 m and the bag at 1 m: list bands from the bottom up, each with the height to_m in metres at which it ends, inside the bag`},
		{"to_m=0.65", "to_m=1.65", `4:49: band "mid" ends at 1.65 m where the one below ends at 0.35 m and the bag at 1 m: list bands from the bottom up, each with the height to_m in metres at which it ends, inside the bag`},
		{`{name="high"}`, `{name="high", to_m=1}`, `4:75: the last band, "high", ends at the bag's top and not at 1 m: leave to_m out of the last band`},
		{`{name="high"}`, `{name="mid"}`, `4:61: bands[2] has the name "mid" again: give each band a name of its own`},
		{`{name="high"}`, `{name=""}`, `4:61: bands[2] has the name "": name the band with letters, digits, dashes and underscores`},
		{`{name="high"}`, `7`, "4:61: bands[2] is a number: write a table"},
		{"\nmass_kg = 35.0", "\nmass_kg = nan", "6:1: bag.mass_kg is NaN: give it in kilograms, 1 to 500"},
		{"\nmass_kg = 35.0", "\nmass_kg = 3500", "6:1: bag.mass_kg is 3500: give it in kilograms, 1 to 500"},
		{"\nmass_kg = 35.0", "\nmass_kg = true", "6:1: bag.mass_kg is true or false: write a number"},
		{"\nmass_kg = 35.0\n", "\n", "5:2: bag.mass_kg is missing: add it in kilograms, 1 to 500"},
		{"length_m = 1.0", "lenght_m = 1.0", "5:2: bag.length_m is missing: add it in metres, 0.1 to 5\n" +
			`7:1: unknown key "bag.lenght_m": did you mean length_m?`},
		{"cover_mass_kg = 2.2", "cover_mass_kg = 20", "13:1: core and cover weigh as much as the whole bag of 35 kg: bag.mass_kg is the whole bag, core and cover included"},
		{"centre_of_mass_depth_m = 0.5", "centre_of_mass_depth_m = 1.5", "10:1: bag.centre_of_mass_depth_m is 1.5 in a bag of 1 m: give metres below the bag's top edge, inside the bag"},
		{"radius_of_gyration_m = 0.27", "radius_of_gyration_m = -1", "11:1: bag.radius_of_gyration_m is -1 in a bag of 1 m: give metres about the centre of mass; an even bag has length / 3.46"},
		{"length_m = 0.7", "length_m = 0.9", "14:1: the core ends 1.05 m below the top of a bag of 1 m: shorten the core or raise it: top_depth_m + length_m may not pass the bag's length_m"},
		{"diameter_m = 0.14", "diameter_m = 0.35", "15:1: the core is 0.35 m thick in a bag of 0.35 m: a core is thinner than its bag; leave [core] out for an evenly filled bag"},
		{"[hang]\nchain_m = 0.48\nstrap_m = 0.08\n", "", "1:1: hang is missing: add a table [hang] with chain_m and strap_m"},
		{"[hang]", "[hng]", "1:1: hang is missing: add a table [hang] with chain_m and strap_m\n" +
			`17:2: unknown key "hng": did you mean hang?`},
		{"chain_m = 0.48", "chain_m = 0", "18:1: hang.chain_m is 0: give it in metres, 0.01 to 20"},
		{"depth_m = 0.06", "depth_m = 1.06", "21:1: sensor.depth_m is 1.06 on a bag of 1 m: give metres below the bag's top edge: from the lower pivot (minus strap_m) to the bag's length_m"},
		{"rate_hz = 1000", "rate_hz = 1", "22:1: sensor.rate_hz is 1: give it in samples a second, 10 to 50000"},
		{`axes = { x = "90", y = "0", z = "up" }`, "", "20:2: sensor.axes is missing: add axes = { x = \"90\", y = \"0\", z = \"up\" } and say where each axis points"},
		{`y = "0"`, `y = "north"`, `28:20: axis y: "north" is no direction: give up, down or a bearing in degrees such as "90"`},
		{`x = "90", y = "0"`, `x = "0", y = "90"`, `28:1: axes x, y and z make a left-handed frame, which no sensor has: turn one axis round; with z up, y lies 90 degrees anticlockwise of x seen from above (x "90", y "0")`},
		{`x = "90"`, `x = "91"`, "28:1: axes x and y are not perpendicular: one axis points up or down and the bearings of the other two differ by 90"},
		{`x = "90"`, `x = 90`, "28:10: sensor.axes.x is a number: write text in double quotes"},
		{"yaw_deg = 0.0", "yaw_deg = inf", "29:1: sensor.yaw_deg is +Inf: give it in degrees, -360 to 360"},
		{"yaw_deg = 0.0", "yaw_deg = 0.0\nyaw_sd_deg = -1", "30:1: sensor.yaw_sd_deg is -1: give it in degrees, 0 to 60"},
		{`time_unit = "us"`, `time_unit = "seconds"`, `31:1: log.time_unit "seconds" is not known: use one of us, ms, s`},
		{"accel_lsb_per_g = 2048\n", "", "31:1: log.accel_unit is counts and nothing says how many make one g: add sensor.accel_lsb_per_g from the sensor's data sheet"},
		{`magic = "a55a"`, `magic = "a5x"`, `35:1: magic "a5x" is not a run of bytes in hexadecimal: write each byte as two digits, such as "a55a"`},
		{`"u32le t"`, `"u32 t"`, `36:11: field "u32 t" cannot be read: write a type and a name, such as "i16le ax" (i, u or f, then the bits, then le or be)`},
		{`"u32le t", `, ``, `36:1: there is no field t: a frame carries at least t, ax, ay and az`},
		{`, "i16le gz"`, ``, `36:1: only some of the fields gx, gy and gz are there: give all three or none`},
		{`"i16le az"`, `"i16le ax"`, "36:1: field ax is there twice: keep one of them\n36:1: there is no field az: a frame carries at least t, ax, ay and az"},
		{`"xor8"`, `"crc"`, `37:1: checksum "crc" is not known: use none, xor8, sum8 or crc16-ccitt-false`},
		{"strap_m = 0.08\n", "strap_m = 0.08\nchain_mass_kg = -1\n", "20:1: hang.chain_mass_kg is -1: give it in kilograms, 0 to 100"},
		{"strap_m = 0.08\n", "strap_m = 0.08\nchain_mass_kg = nan\n", "20:1: hang.chain_mass_kg is NaN: give it in kilograms, 0 to 100"},
		{"centre_of_mass_depth_m = 0.5", "centre_of_mass_depth_m = 1e-300", "10:1: bag.centre_of_mass_depth_m is 1e-300 in a bag of 1 m: give metres below the bag's top edge, inside the bag"},
		{"radius_of_gyration_m = 0.27", "radius_of_gyration_m = 1e-300", "11:1: bag.radius_of_gyration_m is 1e-300 in a bag of 1 m: give metres about the centre of mass; an even bag has length / 3.46"},
		{"[log]\n", "[motion]\nswing_hz = \"slow\"\n[log]\n", "31:1: motion.swing_hz is text: write a number"},
		{"[log]\n", "[motion]\nswing = 0.5\n[log]\n", `31:1: unknown key "motion.swing": known here are swing_hz, swing_decay_s, rocking_hz, rocking_decay_s, twist_hz, twist_decay_s`},
		{"[log]\n", "[motion]\nrocking_hz = 0\n[log]\n", "31:1: motion.rocking_hz is 0: give it in hertz, 0.01 to 20"},
		{"[log]\n", "[motion]\nswing_decay_s = nan\ntwist_hz = 30\n[log]\n", "31:1: motion.swing_decay_s is NaN: give it in seconds, 0.01 to 3600\n32:1: motion.twist_hz is 30: give it in hertz, 0.01 to 20"},
		{"[log]\n", "[motion]\nswing_hz = 0.45\nrocking_hz = 0.4\n[log]\n", "32:1: the bag would swing at 0.45 Hz and rock at 0.4 Hz: rocking is the faster of the two: exchange them, or correct the sizes that the missing one is computed from"},
		{"[log]\n", "[motion]\nswing_hz = 4.5\n[log]\n", "31:1: the bag would swing at 4.5 Hz and rock at 2.16 Hz: rocking is the faster of the two: exchange them, or correct the sizes that the missing one is computed from"},
		{"[log]\n", "[motion]\nrocking_hz = 0.3\n[log]\n", "31:1: the bag would swing at 0.468 Hz and rock at 0.3 Hz: rocking is the faster of the two: exchange them, or correct the sizes that the missing one is computed from"},
		{"[log]\n", "[calibration]\naccel_bias_mps2 = [1, 2]\n[log]\n", "31:1: calibration.accel_bias_mps2 has 2 numbers: give three numbers, one an axis, in m/s²"},
		{"[log]\n", "[calibration]\ngyro_bias_radps = []\n[log]\n", "31:1: calibration.gyro_bias_radps has 0 numbers: give three numbers, one an axis, in rad/s"},
		{"[log]\n", "[calibration]\ngyro_bias_radps = [0.1, 11, nan]\n[log]\n", "31:25: calibration.gyro_bias_radps[1] is 11: give it in rad/s, -10 to 10\n31:29: calibration.gyro_bias_radps[2] is NaN: give it in rad/s, -10 to 10"},
		{"[log]\n", "[calibration]\naccel_bias_mps2 = [1, 'a', 2]\n[log]\n", "31:23: calibration.accel_bias_mps2[1] is text: write a number"},
		{"[log]\n", "[calibration]\naccel_matrix = [[1,0,0],[0,1,0]]\n[log]\n", "31:1: calibration.accel_matrix has 2 rows: give three rows of three numbers"},
		{"[log]\n", "[calibration]\naccel_matrix = [[1,0,0],[0,1],[0,0,1]]\n[log]\n", "31:1: row 2 of calibration.accel_matrix has 2 numbers: give three rows of three numbers"},
		{"[log]\n", "[calibration]\ngyro_matrix = [[1,0,0],[0,1,0.6],[0,0,1]]\n[log]\n", "31:29: row 2, column 3 of calibration.gyro_matrix is 0.6: measure again with strikerose rig calibrate: a correction is nearly the identity"},
		{"[log]\n", "[calibration]\naccel_matrix = [[0.6,0.5,0.5],[0.5,0.6,0.5],[0.5,0.5,0.6]]\n[log]\n", "31:1: calibration.accel_matrix has the determinant 0.016: measure again with strikerose rig calibrate: a correction is nearly the identity"},
		{"[log]\n", "[calibration]\ngyro_matrix = 1\n[log]\n", "31:1: calibration.gyro_matrix is a number: write a list in square brackets"},
		{"[log]\n", "[calibration]\ngyro_noise_radps = -1\n[log]\n", "31:1: calibration.gyro_noise_radps is -1: give it in rad/s, 0 to 10"},
		{`[log]`, `[[log]]`, "30:3: log is a list of tables: write a table"},
	} {
		_, err := rig.Parse([]byte(edit(t, c.old, c.new)), "rig.toml")
		var want []string
		for _, line := range strings.Split(c.want, "\n") {
			want = append(want, "rig.toml:"+line)
		}
		if diff := cmp.Diff(strings.Join(want, "\n"), fmt.Sprint(err)); diff != "" {
			t.Errorf("%q for %q (-want +got):\n%s", c.new, c.old, diff)
		}
	}
}

func TestParseReportsBrokenTOML(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"name = \"x\nrevision = 1", "rig.toml:1:"},
		{garage + "\n[bag]\nmass_kg = 1\n", "rig.toml:39:"},
		{edit(t, "revision = 1", "revision = 99999999999999999999"), "rig.toml:2:"},
		{"t_us,ax,ay,az\n1,2,3,4\n", "rig.toml:1:"},
		{"\x00\xff", "rig.toml:1:"},
	} {
		_, err := rig.Parse([]byte(c.text), "rig.toml")
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("Parse(%.30q...) gives %v, want an error at %s", c.text, err, c.want)
		}
		if _, ok := errors.AsType[*rig.Fault](err); !ok {
			t.Errorf("Parse(%.30q...) gives %T, want a *Fault inside", c.text, err)
		}
	}
}

func TestEmptyFileNamesAllThatIsMissing(t *testing.T) {
	_, err := rig.Parse(nil, "rig.toml")
	want := `rig.toml:1:1: name is missing: add a line such as name = "garage"
rig.toml:1:1: revision is missing: add revision = 1, and raise it when the sensor or the filling moves
rig.toml:1:1: bag is missing: add a table [bag] with mass_kg, length_m and diameter_m
rig.toml:1:1: hang is missing: add a table [hang] with chain_m and strap_m
rig.toml:1:1: sensor is missing: add a table [sensor] with depth_m, rate_hz, accel_range_g and axes`
	if diff := cmp.Diff(want, fmt.Sprint(err)); diff != "" {
		t.Errorf("an empty file (-want +got):\n%s", diff)
	}
}

func TestWrongTypesInListOfTables(t *testing.T) {
	text := edit(t, `bands = [ {name="low", to_m=0.35}, {name="mid", to_m=0.65}, {name="high"} ]`, "") +
		"[[bands]]\nname='low'\nto_m='0.35'\n[[bands]]\nname=5\nto_m=0.65\n[[bands]]\nname='high'\nto_m=2\n"
	_, err := rig.Parse([]byte(text), "rig.toml")
	want := `rig.toml:40:1: bands[0].to_m is text: write a number
rig.toml:42:1: bands[1].name is a number: write text in double quotes
rig.toml:46:1: the last band, "high", ends at the bag's top and not at 2 m: leave to_m out of the last band`
	if diff := cmp.Diff(want, fmt.Sprint(err)); diff != "" {
		t.Errorf("wrong types in [[bands]] (-want +got):\n%s", diff)
	}
}

func TestLoad(t *testing.T) {
	path := filepath.Join(t.TempDir(), "my garage.toml")
	if _, err := rig.Load(path); !errors.Is(err, os.ErrNotExist) || !strings.HasSuffix(err.Error(), ": strikerose rig new '"+path+"' writes one to fill in") {
		t.Errorf("Load of no file gives %v", err)
	}
	if err := os.WriteFile(path, []byte(garage), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := rig.Load(path)
	if err != nil || r.Key() != "garage-r1" {
		t.Errorf("Load gives %v, %v", r, err)
	}
}

// measured is what measuring adds to a rig file.
const measured = `[motion]
swing_hz = 0.46
swing_decay_s = 31.0
rocking_hz = 2.1
rocking_decay_s = 1.9
twist_hz = 1.2
twist_decay_s = 0.8
[calibration]
accel_bias_mps2 = [0.1, -0.2, 0.3]
accel_matrix = [[1.01, 0.0, 0.02], [0.0, 0.99, 0.0], [0.0, 0.0, 1.0]]
gyro_bias_radps = [0.01, 0.0, -0.01]
gyro_matrix = [[1, 0, 0], [0, 1, 0], [0, 0, 1.02]]
gyro_noise_radps = 0.001
`

func TestParseMeasured(t *testing.T) {
	r := parse(t, edit(t, "strap_m = 0.08\n", "strap_m = 0.08\nchain_mass_kg = 0.9\n")+measured)
	if r.Hang.ChainMassKg != 0.9 {
		t.Errorf("the chain weighs %g kg, want 0.9", r.Hang.ChainMassKg)
	}
	wantMotion := &rig.Motion{SwingHz: 0.46, SwingDecayS: 31, RockingHz: 2.1, RockingDecayS: 1.9, TwistHz: 1.2, TwistDecayS: 0.8}
	if diff := cmp.Diff(wantMotion, r.Motion); diff != "" {
		t.Errorf("motion (-want +got):\n%s", diff)
	}
	wantCalibration := &rig.Calibration{
		AccelBiasMPS2: []float64{0.1, -0.2, 0.3}, AccelMatrix: [][]float64{{1.01, 0, 0.02}, {0, 0.99, 0}, {0, 0, 1}},
		GyroBiasRadps: []float64{0.01, 0, -0.01}, GyroMatrix: [][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1.02}}, GyroNoiseRadps: 0.001,
	}
	if diff := cmp.Diff(wantCalibration, r.Calibration); diff != "" {
		t.Errorf("calibration (-want +got):\n%s", diff)
	}
	swing, rocking := r.Mechanics().Modes()
	twist := r.Mechanics().Twist()
	for i, m := range []rig.Mode{swing, rocking, twist} {
		want := [3][2]float64{{0.46, 31}, {2.1, 1.9}, {1.2, 0.8}}[i]
		if m.Hz != want[0] || m.DecayS != want[1] || !m.Measured {
			t.Errorf("%s at %g Hz, decay %g s, measured %v; want %g Hz and %g s as measured", m.Name, m.Hz, m.DecayS, m.Measured, want[0], want[1])
		}
	}
	if bare := parse(t, garage); bare.Motion != nil || bare.Calibration != nil || bare.Mechanics().Twist().Measured {
		t.Errorf("a file without them gives %+v and %+v", bare.Motion, bare.Calibration)
	}
}

func TestEncodeRoundTrip(t *testing.T) {
	accelOnly := edit(t, "gyro_range_dps = 2000\n", "")
	bare := garage[:strings.Index(garage, "[log]")]
	for name, text := range map[string]string{
		"whole": garage, "no gyroscope": accelOnly, "no log hints": bare,
		"measured":         edit(t, "strap_m = 0.08\n", "strap_m = 0.08\nchain_mass_kg = 0.9\n") + measured,
		"measured in part": garage + "[motion]\ntwist_hz = 1.1\n[calibration]\ngyro_bias_radps = [0, 0.1, -0.2]\n",
		"measured nothing": garage + "[motion]\n[calibration]\n",
	} {
		r := parse(t, text)
		data, err := r.Encode()
		if err != nil {
			t.Fatal(err)
		}
		again := parse(t, string(data))
		if !r.Equal(again) {
			t.Errorf("%s: written and read again differs: %v\n%s", name, rig.Diff(r, again), data)
		}
	}
}

func TestTemplate(t *testing.T) {
	r := parse(t, string(rig.Template("shed")))
	if r.Name != "shed" || r.Validate() != nil {
		t.Errorf("Template gives %q, %v", r.Name, r.Validate())
	}
	for _, bad := range []string{"no name!", "a\nb = 1", `"`, ""} {
		if _, err := rig.Parse(rig.Template(bad), "rig.toml"); err == nil || rig.ValidName(bad) == nil {
			t.Errorf("Template of the bad name %q parses", bad)
		}
	}
	// With every commented line taken in, it is still a rig file.
	var full []string
	for line := range strings.Lines(string(rig.Template("shed"))) {
		if rest, ok := strings.CutPrefix(line, "# "); ok && (strings.HasPrefix(rest, "[") || strings.Contains(rest, " = ")) {
			line = rest
		}
		full = append(full, line)
	}
	whole := parse(t, strings.Join(full, ""))
	if whole.Core == nil || whole.Log.Frame == nil || whole.Bag.CentreOfMassDepthM == nil {
		t.Errorf("the commented lines of the template do not give all tables: %+v", whole)
	}
}

func TestValidate(t *testing.T) {
	r := parse(t, garage)
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
	r.Bag.MassKg = -1
	r.Sensor.Axes.Z = "sideways"
	err := r.Validate()
	for _, want := range []string{"rig garage-r1: bag.mass_kg is -1: ", `axis z: "sideways"`} {
		if !strings.Contains(fmt.Sprint(err), want) {
			t.Errorf("Validate gives %v, want %q in it", err, want)
		}
	}
}

func TestDiff(t *testing.T) {
	a := parse(t, garage)
	b := parse(t, edit(t, "[core]\nmass_kg = 19.0\nlength_m = 0.7\ndiameter_m = 0.14\ntop_depth_m = 0.15\n", ""))
	b.Faces, b.Sensor.DepthM, b.Log.TimeUnit = 8, 0.1, "ms"
	k := 0.3
	b.Bag.RadiusOfGyrationM = &k
	want := []string{
		"faces: 6 against 8",
		"bag.radius_of_gyration_m: 0.27 against 0.3",
		"core: {19 0.7 0.14 0.15} against none",
		"sensor.depth_m: 0.06 against 0.1",
		`log.time_unit: "us" against "ms"`,
	}
	var got []string
	for _, d := range rig.Diff(a, b) {
		got = append(got, d.String())
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("Diff (-want +got):\n%s", diff)
	}
	c := parse(t, garage+measured)
	d := parse(t, garage+measured)
	d.Hang.ChainMassKg, d.Motion.TwistHz, d.Calibration.AccelBiasMPS2[1], d.Calibration.GyroMatrix[2][2] = 2, 0, 0.2, 1
	want = []string{
		"hang.chain_mass_kg: 0 against 2",
		"motion.twist_hz: 1.2 against 0",
		"calibration.accel_bias_mps2: [0.1 -0.2 0.3] against [0.1 0.2 0.3]",
		"calibration.gyro_matrix: [[1 0 0] [0 1 0] [0 0 1.02]] against [[1 0 0] [0 1 0] [0 0 1]]",
	}
	got = nil
	for _, x := range rig.Diff(c, d) {
		got = append(got, x.String())
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("Diff of what was measured (-want +got):\n%s", diff)
	}
	if keys := rig.Diff(a, c); len(keys) != 2 || keys[0].Key != "motion" || keys[0].A != "none" || keys[1].Key != "calibration" {
		t.Errorf("a rig with measured motion and calibration differs from one without in %v", keys)
	}
	if !a.Equal(parse(t, garage)) {
		t.Error("the same file read twice is not equal")
	}
}

func TestLoadRecordings(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(datasettest.Recordings(t), "*", "rig.toml"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no rig files: %v", err)
	}
	for _, path := range paths {
		r, err := rig.Load(path)
		if err != nil {
			t.Error(err)
			continue
		}
		t.Logf("%s: %+v", r.Key(), r.Inertia())
	}
}

// TestParseLimits: what no rig has is refused at once, with its place, however
// much of it there is.
func TestParseLimits(t *testing.T) {
	many := func(n int, text string) string { // %d in it counts
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, text, i)
		}
		return b.String()
	}
	for name, c := range map[string]struct{ text, want string }{
		"size":           {garage + strings.Repeat("# a comment\n", 10_000), "f:1:1: longer than 64 KB"},
		"bands":          {strings.Replace(garage, "bands = [", "bands = ["+many(1000, `{name="b%d", to_m=0.1},`), 1), "f:4:1: there are 1003 bands"},
		"tables":         {strings.Replace(garage, "bands", "#", 1) + many(3000, "[[bands]]#%d\n"), "there are 3000 bands"},
		"unknown keys":   {many(6000, "k%d = 1\n") + garage, "f: faults not listed: 5980 more"},
		"nested lists":   {"x = " + strings.Repeat("[", 30_000) + "\n" + garage, "f:1:10005: "},
		"nested tables":  {"x = " + strings.Repeat("{a=", 20_000) + "\n" + garage, "f:1:30005: "},
		"a long key":     {"x" + strings.Repeat(".a", 30_000) + " = 1\n" + garage, `f:1:1: unknown key "x"`},
		"revision":       {strings.Replace(garage, "revision = 1", "revision = 9223372036854775807", 1), "f:2:1: revision is 9223372036854775807"},
		"frame":          {strings.Replace(garage, "fields = [", "fields = ["+many(2000, `"u64le x%d",`), 1), "the frame is 16019 bytes long"},
		"no finite mass": {strings.Replace(garage, "mass_kg = ", "mass_kg = 1e99999 # ", 1), "f:"},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := rig.Parse([]byte(c.text), "f")
			if err == nil || r != nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, %.300v; want one with %q", r, err, c.want)
			}
			if err != nil && len(err.Error()) > 100_000 {
				t.Errorf("an error of %d bytes", len(err.Error()))
			}
		})
	}
	if _, err := rig.ReadFile("/dev/zero"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(garage))
	f.Add([]byte(garage + measured))
	f.Add(rig.Template("x"))
	f.Add([]byte("bands = [ 1, {name=2} ]\n[[bag]]\n[log.frame]\nfields = [[]]\n"))
	f.Add([]byte("a.b.c = 1\nbands.x = 2\nname.y = 3\n[sensor.axes]\nx = 1979-05-27\n[sensor.axes.x]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := rig.Parse(data, "f")
		if err != nil {
			for line := range strings.Lines(err.Error()) {
				var l, c int
				if n, _ := fmt.Sscanf(line, "f:%d:%d:", &l, &c); n == 2 && (l < 1 || c < 1) {
					t.Errorf("a fault without a place: %s", line)
				}
			}
			if r != nil {
				t.Error("an error and a rig")
			}
			return
		}
		if err := r.Validate(); err != nil {
			t.Errorf("Parse accepts what Validate refuses: %v", err)
		}
		r.SensorToBag()
		in := r.Inertia()
		if !(in.RadiusOfGyrationM > 0 && in.TwistKgM2 > 0 && in.CentreOfMassDepthM > 0 && in.CentreOfMassDepthM < r.Bag.LengthM) {
			t.Errorf("inertia %+v", in)
		}
		m := r.Mechanics()
		if swing, rocking := m.Modes(); !(0 < swing.Hz && swing.Hz < rocking.Hz && rocking.Hz < math.Inf(1) && m.Twist().Hz > 0) {
			t.Errorf("the bag swings at %g Hz, rocks at %g Hz and turns at %g Hz", swing.Hz, rocking.Hz, m.Twist().Hz)
		}
		text, err := r.Encode()
		if err != nil {
			t.Fatal(err)
		}
		again, err := rig.Parse(text, "again")
		if err != nil || !r.Equal(again) {
			t.Errorf("written and read again: %v\n%s", err, text)
		}
	})
}

func TestYawUncertain(t *testing.T) {
	for text, want := range map[string]float64{
		"yaw_deg = 0.0":                   rig.UsualYawSDDeg,
		"yaw_deg = 0.0\nyaw_sd_deg = 0":   0,
		"yaw_deg = 0.0\nyaw_sd_deg = 1.5": 1.5,
	} {
		r := parse(t, strings.Replace(garage, "yaw_deg = 0.0", text, 1))
		if got := r.Sensor.YawUncertainDeg(); got != want {
			t.Errorf("%q: uncertain by %g degrees, want %g", text, got, want)
		}
	}
}
