package firmware_test

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/models/firmware"
)

// The C turns readings as the chain does, with a calibration and without.
func TestAxesAgree(t *testing.T) {
	gcc := datasettest.RequireTool(t, "gcc", "apt-get install gcc libc6-dev")
	d := detectors()[0]
	for name, calibration := range map[string]*rig.Calibration{
		"plain": nil,
		"calibrated": {
			AccelBiasMPS2: []float64{0.5, -0.3, 0.8}, AccelMatrix: [][]float64{{1.02, 0.01, 0}, {0, 0.97, -0.02}, {0.01, 0, 1.03}},
			GyroBiasRadps: []float64{0.05, 0.1, -0.02},
		},
	} {
		r := *hall(t, true)
		r.Calibration, r.Sensor.YawDeg = calibration, 31
		r.Sensor.Axes = rig.Axes{X: "up", Y: "0", Z: "270"}
		b, err := firmware.Export(trained(t, d), &r, nil, firmware.Options{})
		if err != nil {
			t.Fatal(err)
		}
		dir := written(t, b)
		accel, gyro := r.AccelTurn(), r.GyroTurn()
		readings := [][3]float64{{0, 0, 9.8}, {100, -50, 3}, {-0.1, 20, 156}}
		var calls strings.Builder
		var want []float64
		for _, v := range readings {
			for _, sensor := range []struct {
				name string
				turn rig.Turn
			}{{"accel", accel}, {"gyro", gyro}} {
				fmt.Fprintf(&calls, "{ const float r[3] = {(float)%g, (float)%g, (float)%g}; strikerose_%s_to_bag(r, b); printf(\"%%.9g %%.9g %%.9g\\n\", (double)b[0], (double)b[1], (double)b[2]); }\n",
					v[0], v[1], v[2], sensor.name)
				bag := sensor.turn.Bag(v)
				want = append(want, bag[:]...)
			}
		}
		source := "#include <stdio.h>\n#include \"strikerose_axes.h\"\nint main(void) { float b[3];\n" + calls.String() + "return 0; }\n"
		path := filepath.Join(dir, "axes.c")
		if err := os.WriteFile(path, []byte(source), 0o644); err != nil {
			t.Fatal(err)
		}
		binary := filepath.Join(dir, "axes")
		if out, err := exec.Command(gcc, append(strict("-O2"), "-o", binary, path)...).CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		out, err := exec.Command(binary).Output()
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Fields(string(out))
		if len(got) != len(want) {
			t.Fatalf("%s: %d numbers, want %d", name, len(got), len(want))
		}
		for i := range want {
			var v float64
			if _, err := fmt.Sscan(got[i], &v); err != nil {
				t.Fatal(err)
			}
			if math.Abs(v-want[i]) > 1e-6*160 {
				t.Errorf("%s: number %d is %g, want %g", name, i, v, want[i])
			}
		}
	}
}
