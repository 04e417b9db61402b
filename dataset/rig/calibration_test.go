package rig_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// Without a calibration the turn is the axis map and its transpose.
func TestTurnWithoutCalibration(t *testing.T) {
	r := datasettest.Rig(t)
	r.Sensor.Axes, r.Sensor.YawDeg = rig.Axes{X: "up", Y: "0", Z: "270"}, 33.3
	m := r.SensorToBag()
	for _, turn := range []rig.Turn{r.AccelTurn(), r.GyroTurn()} {
		for i := range 3 {
			for j := range 3 {
				if turn.Matrix[i][j] != m[i][j] || turn.Back[i][j] != m[j][i] {
					t.Fatalf("turn %+v, want %v and its transpose", turn, m)
				}
			}
		}
		if turn.Bias != [3]float64{} {
			t.Errorf("bias %v, want none", turn.Bias)
		}
	}
}

// The worked example of testdata/reference: a reading of a tilted sensor with
// known errors is put right, and then turned.
func TestTurnCorrects(t *testing.T) {
	r := datasettest.Rig(t)
	r.Sensor.YawDeg = 90 // clockwise: the sensor's y points to bearing 90
	r.Calibration = &rig.Calibration{
		AccelBiasMPS2: []float64{0.05, -0.12, 0.2},
		AccelMatrix: [][]float64{
			{0.9804705150533277, -0.010035248388941383, 0.004973045104885192},
			{-0.004097313656136327, 1.0205243317227934, -0.012145325295993695},
			{0.007790443566696354, -0.006142007898463642, 0.9902105508045689},
		},
		GyroBiasRadps: []float64{0.1, 0.2, 0.3},
	}
	if err := r.Validate(); err != nil {
		t.Fatal(err)
	}
	accel, gyro := r.AccelTurn(), r.GyroTurn()
	for k, want := range [3]float64{-0.48, -0.6, 0.64} {
		if got := accel.Bag([3]float64{0.654, -0.58032, 0.83872})[k]; math.Abs(got-want) > 1e-12 {
			t.Errorf("axis %d is %g, want %g", k, got, want)
		}
	}
	for k, want := range [3]float64{0.8, -0.9, 1.7} {
		if got := gyro.Bag([3]float64{1, 1, 2})[k]; math.Abs(got-want) > 1e-12 {
			t.Errorf("rotation about axis %d is %g, want %g", k, got, want)
		}
	}
}

// Reading undoes Bag.
func TestTurnThereAndBack(t *testing.T) {
	r := datasettest.Rig(t)
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.Float64Range(-0.1, 0.1)
		k := &rig.Calibration{AccelBiasMPS2: []float64{part.Draw(t, "x"), part.Draw(t, "y"), part.Draw(t, "z")}}
		for i := range 3 {
			row := []float64{part.Draw(t, "0"), part.Draw(t, "1"), part.Draw(t, "2")}
			row[i]++
			k.AccelMatrix = append(k.AccelMatrix, row)
		}
		c := *r
		c.Calibration, c.Sensor.YawDeg = k, rapid.Float64Range(-180, 180).Draw(t, "yaw")
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		turn := c.AccelTurn()
		value := rapid.Float64Range(-100, 100)
		v := [3]float64{value.Draw(t, "a"), value.Draw(t, "b"), value.Draw(t, "c")}
		got := turn.Reading(turn.Bag(v))
		for i := range 3 {
			if math.Abs(got[i]-v[i]) > 1e-10 {
				t.Fatalf("%v there and back is %v", v, got)
			}
		}
	})
}

// A matrix that flattens readings is refused.
func TestSingularCalibration(t *testing.T) {
	r := datasettest.Rig(t)
	r.Calibration = &rig.Calibration{AccelMatrix: [][]float64{{0.5, 0.5, 0}, {0.5, 0.5, 0}, {0, 0, 1}}}
	if err := r.Validate(); err == nil {
		t.Error("a singular matrix passes")
	}
}
