package rig

// Turn brings a reading from the sensor's axes to the bag's frame: calibration,
// axis map and nominal yaw in one, bag = Matrix (reading - Bias). Without a
// calibration Matrix is SensorToBag, Back its transpose and Bias zero, bit for
// bit.
type Turn struct {
	Matrix [3][3]float64
	Back   [3][3]float64 // the inverse of Matrix
	Bias   [3]float64    // in the reading's unit, sensor axes
}

// AccelTurn is the turn of the accelerometer's readings, its bias in m/s2. The
// rig must be valid.
func (r *Rig) AccelTurn() Turn {
	if r.Calibration == nil {
		return r.turn(nil, nil)
	}
	return r.turn(r.Calibration.AccelMatrix, r.Calibration.AccelBiasMPS2)
}

// GyroTurn is the turn of the gyroscope's readings, its bias in rad/s. The rig
// must be valid.
func (r *Rig) GyroTurn() Turn {
	if r.Calibration == nil {
		return r.turn(nil, nil)
	}
	return r.turn(r.Calibration.GyroMatrix, r.Calibration.GyroBiasRadps)
}

// turn joins a correcting matrix, nil for none, with SensorToBag.
func (r *Rig) turn(matrix [][]float64, bias []float64) Turn {
	t := Turn{Matrix: r.SensorToBag()}
	copy(t.Bias[:], bias)
	toBag := t.Matrix
	for i := range 3 {
		for j := range 3 {
			t.Back[i][j] = toBag[j][i]
		}
	}
	if matrix == nil {
		return t
	}
	correction := [3][3]float64{[3]float64(matrix[0]), [3]float64(matrix[1]), [3]float64(matrix[2])}
	t.Matrix = product(toBag, correction)
	t.Back = product(inverse(correction), t.Back)
	return t
}

// Bag returns a reading in the bag's frame.
func (t *Turn) Bag(reading [3]float64) (bag [3]float64) {
	m := &t.Matrix
	x, y, z := reading[0]-t.Bias[0], reading[1]-t.Bias[1], reading[2]-t.Bias[2]
	for i := range bag {
		bag[i] = float64(m[i][0]*x) + float64(m[i][1]*y) + float64(m[i][2]*z)
	}
	return bag
}

// Reading returns what the sensor reads of a vector in the bag's frame.
func (t *Turn) Reading(bag [3]float64) (reading [3]float64) {
	m := &t.Back
	x, y, z := bag[0], bag[1], bag[2]
	for k := range reading {
		reading[k] = float64(m[k][0]*x) + float64(m[k][1]*y) + float64(m[k][2]*z) + t.Bias[k]
	}
	return reading
}

func product(a, b [3][3]float64) (c [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[i][j] += float64(a[i][k] * b[k][j])
			}
		}
	}
	return c
}

// inverse inverts a matrix by its cofactors. A valid rig holds no singular one,
// see checker.correction.
func inverse(m [3][3]float64) (out [3][3]float64) {
	rows := [3][3]float64{cross(m[1], m[2]), cross(m[2], m[0]), cross(m[0], m[1])}
	det := dot(m[0], rows[0])
	for i := range 3 {
		for j := range 3 {
			out[i][j] = rows[j][i] / det
		}
	}
	return out
}
