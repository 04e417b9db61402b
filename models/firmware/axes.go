package firmware

import (
	"fmt"

	"strikerose/dataset/rig"
)

const fileAxes = "strikerose_axes.h"

// axesHeader writes strikerose_axes.h: the step that comes before all features,
// from the sensor's axes to the bag's, with the rig's calibration. It belongs to
// the rig alone: it is the same for every detector, and the table does not hold
// it.
func axesHeader(r *rig.Rig) []byte {
	w := &cWriter{}
	w.comment(fmt.Sprintf("From the sensor's axes to the bag's for rig %s. Written by strikerose; do not edit, export again.", r.Key()))
	w.line("#ifndef STRIKEROSE_AXES_H")
	w.line("#define STRIKEROSE_AXES_H")
	w.line("")
	w.comment("Frame of the bag: x toward bearing 90, y toward bearing 0, z up. Take a reading as clipped before it is turned: the limit is that of the sensor's own axes.")
	accel, gyro := r.AccelTurn(), r.GyroTurn()
	turnFunction(w, "accel", "accelerometer's reading", "m/s2", accel)
	if r.HasGyro() {
		turnFunction(w, "gyro", "gyroscope's reading", "rad/s", gyro)
	}
	w.line("")
	w.line("#endif")
	return []byte(w.String())
}

func turnFunction(w *cWriter, name, what, unit string, t rig.Turn) {
	w.line("")
	w.comment(fmt.Sprintf("Turns the %s, %s: bag = matrix (reading - bias).", what, unit))
	w.line("static inline void strikerose_%s_to_bag(const float reading[3], float bag[3])", name)
	w.line("{")
	w.depth++
	row := func(v [3]float64) string {
		return fmt.Sprintf("%s, %s, %s", floatLiteral(v[0]), floatLiteral(v[1]), floatLiteral(v[2]))
	}
	w.line("const float bias[3] = {%s};", row(t.Bias))
	w.line("const float matrix[3][3] = {")
	for i := range 3 {
		comma := ","
		if i == 2 {
			comma = ""
		}
		w.line("    {%s}%s", row(t.Matrix[i]), comma)
	}
	w.line("};")
	w.line("float true_reading[3];")
	w.line("")
	w.line("for (int k = 0; k < 3; k++) {")
	w.line("    true_reading[k] = reading[k] - bias[k];")
	w.line("}")
	w.line("for (int i = 0; i < 3; i++) {")
	w.line("    bag[i] = matrix[i][0] * true_reading[0] + matrix[i][1] * true_reading[1] + matrix[i][2] * true_reading[2];")
	w.line("}")
	w.depth--
	w.line("}")
}
