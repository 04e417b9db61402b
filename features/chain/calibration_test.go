package chain_test

import (
	"math"
	"slices"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/features/featurestest"
)

// What a sensor with known errors reads gives the same windows, once its
// calibration stands in the rig file, as what a perfect sensor reads.
func TestCalibration(t *testing.T) {
	scene := busy(1000, 2)
	scene.ClipMPS2, scene.Blips = 0, nil // limits and faults belong to readings
	perfect := featurestest.Rig(1000)
	perfect.Sensor.YawDeg, perfect.Sensor.AccelRangeG = 25, 100
	sig := scene.Signal(perfect, 4)
	want := run(t, perfect, sig, usual)

	calibrated := featurestest.Rig(1000)
	calibrated.Sensor.YawDeg, calibrated.Sensor.AccelRangeG = 25, 100
	calibrated.Calibration = &rig.Calibration{
		AccelBiasMPS2: []float64{0.5, -0.3, 0.8}, AccelMatrix: [][]float64{{1.02, 0.01, 0}, {0, 0.97, -0.02}, {0.01, 0, 1.03}},
		GyroBiasRadps: []float64{0.05, 0.1, -0.02}, GyroMatrix: [][]float64{{0.99, 0, 0}, {0, 1.02, 0.01}, {0, 0, 1.01}},
	}
	accel, gyro := calibrated.AccelTurn(), calibrated.GyroTurn()
	read, plain := copied(sig), perfect.AccelTurn()
	for i := range read.Len() {
		x := sig.At(i)
		for k := range 3 {
			read.A[k][i] = float32(accel.Reading(plain.Bag(x.A))[k])
			read.G[k][i] = float32(gyro.Reading(plain.Bag(x.G))[k])
		}
	}
	got := run(t, calibrated, read, usual)
	if len(got) != len(want) {
		t.Fatalf("%d windows, want %d", len(got), len(want))
	}
	for i := range got {
		worst := 0.0
		for k := range 3 {
			for j := range got[i].A[k] {
				worst = max(worst, math.Abs(got[i].A[k][j]-want[i].A[k][j]), math.Abs(got[i].G[k][j]-want[i].G[k][j]))
			}
		}
		if worst > 1e-4 { // readings are float32
			t.Errorf("window %d differs by %g", i, worst)
		}
	}
	if wrong := run(t, perfect, read, usual); len(wrong) == len(want) && math.Abs(wrong[0].A[2][0]-want[0].A[2][0]) < 0.1 {
		t.Error("readings without correction give the same vertical: the test shows nothing")
	}
}

// Clipping is judged on readings, before they are corrected.
func TestClippingIsOfReadings(t *testing.T) {
	const limitMPS2 = 16 * dataset.StandardGravity
	rg := featurestest.Rig(1000)
	rg.Calibration = &rig.Calibration{AccelMatrix: [][]float64{{0.9, 0, 0}, {0, 0.9, 0}, {0, 0, 0.9}}}
	scene := featurestest.Scene{RateHz: 1000, NoiseMPS2: 0.03, Seed: 4, ClipMPS2: limitMPS2,
		Blows: []featurestest.Blow{{AtS: 0.5, BearingDeg: 0, PeakMPS2: 1.1 * limitMPS2}}}
	windows := run(t, rg, scene.Signal(rg, 2), usual)
	if len(windows) != 1 || !windows[0].Strike.Clipped {
		t.Fatalf("%d windows, want one with a clipped strike", len(windows))
	}
	// The part above the limit is put back, and corrected like the rest.
	peak := -slices.Min(windows[0].A[1])
	if peak < 0.9*limitMPS2*1.02 || peak > 0.9*limitMPS2*1.2 {
		t.Errorf("peak %.1f m/s2, want somewhat above %.1f", peak, 0.9*limitMPS2)
	}
}
