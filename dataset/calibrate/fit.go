package calibrate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

// Fit is what poses tell of an accelerometer. A true reading is Matrix (reading
// - BiasMPS2).
type Fit struct {
	From     string        `json:"from"`      // what was fitted, by what the poses tell: one of FromFaces, FromSizes, FromBias or FromNothing
	BiasMPS2 [3]float64    `json:"bias_mps2"` // bias of the x, y and z axis, m/s²: a true reading is matrix (reading - bias_mps2)
	Matrix   [3][3]float64 `json:"matrix"`    // rows of the matrix that takes readings less their bias to true ones
	// BiasSEMPS2 is the standard error of each bias from the scatter of the residuals, m/s²,
	// each at least 0; absent where no reading was left over to judge by.
	BiasSEMPS2 *[3]float64 `json:"bias_se_mps2,omitempty"`
	// MatrixSE is the standard error of each number of the matrix's inverse, which it nearly
	// equals, each at least 0; absent where no reading was left over to judge by.
	MatrixSE *[3][3]float64 `json:"matrix_se,omitempty"`
	RMSMPS2  float64        `json:"rms_mps2"` // root mean square of the residuals of the readings fitted, m/s², at least 0
	Freedom  int            `json:"freedom"`  // how many readings there are beyond the numbers fitted
	Used     int            `json:"poses"`    // how many poses were fitted, at least 0
	Notes    []string       `json:"notes"`    // what is not told, and why, in words
}

// What a fit was made from.
const (
	FromFaces   = "faces"
	FromSizes   = "sizes"
	FromBias    = "bias"
	FromNothing = "nothing"
)

const (
	// mostMisfitMPS2 is the residual beyond which poses were no faces of a box: a
	// tilt of three degrees.
	mostMisfitMPS2 = 0.5
	// mostCondition of the design, its columns of equal size: beyond it poses lie
	// too much alike to tell the numbers apart.
	mostCondition = 12.0
)

// Accelerometer fits what the poses tell, the most that they do: bias and
// matrix from the faces of a box, of which four can be enough and six are good;
// bias and scales from the size of gravity in poses of any kind; the bias alone;
// or nothing. Faces count as such where most poses lie on one.
func Accelerometer(poses []Pose) Fit {
	var onFace []Pose
	distinct := map[string]bool{}
	for _, p := range poses {
		if p.Face != "" {
			onFace = append(onFace, p)
			distinct[p.Face] = true
		}
	}
	var notes []string
	if f, ok := fitFaces(onFace); ok && 2*len(onFace) > len(poses) {
		if f.RMSMPS2 <= mostMisfitMPS2 {
			if n := len(distinct); n < 6 {
				f.Notes = append(f.Notes, fmt.Sprintf("%d of six faces: a face that was not quite level is not found out; lay the sensor on all six", n))
			}
			if n := len(poses) - len(onFace); n > 0 {
				f.Notes = append(f.Notes, fmt.Sprintf("%d poses lie on no face and were left out", n))
			}
			return f
		}
		notes = append(notes, fmt.Sprintf("the faces fit only to %.2f m/s²: they were not square or not level, so that only the size of gravity is used", f.RMSMPS2))
	}
	for _, m := range []sizeModel{{scales: true, least: 6}, {least: 4}} {
		f, ok := fitSizes(poses, m)
		if !ok {
			continue
		}
		f.Notes = append(notes, f.Notes...)
		if m.scales {
			f.Notes = append(f.Notes, "gravity's size tells bias and scales, and nothing of how the axes lie: lay the sensor on six square faces for that")
		} else {
			f.Notes = append(f.Notes, "the poses tell the bias only if all three scales are right: six poses, three axes up and down, tell both")
		}
		return f
	}
	f := Fit{From: FromNothing, Matrix: identity(), Notes: notes}
	switch {
	case len(poses) == 0:
		f.Notes = append(f.Notes, "the sensor never lay still: let it lie some seconds in each pose")
	case len(poses) == 1:
		p := poses[0]
		f.Notes = append(f.Notes, fmt.Sprintf("one pose tells the size of its reading alone, %.3f of standard gravity: bias and scale cannot be told apart; lay the sensor on six faces", size(p.Accel)/dataset.StandardGravity))
	default:
		f.Notes = append(f.Notes, fmt.Sprintf("%d poses do not tell bias and scale apart, or lie too much alike: lay the sensor on six faces", len(poses)))
	}
	return f
}

// Calibration is the fit as a rig file holds it, rounded to what it can be good
// for; nil parts where nothing was told.
func (f Fit) Calibration() rig.Calibration {
	var c rig.Calibration
	if f.From == FromNothing {
		return c
	}
	for _, v := range f.BiasMPS2 {
		c.AccelBiasMPS2 = append(c.AccelBiasMPS2, rounded(v, 1e5))
	}
	if f.From == FromBias {
		return c
	}
	for _, row := range f.Matrix {
		c.AccelMatrix = append(c.AccelMatrix, []float64{rounded(row[0], 1e6), rounded(row[1], 1e6), rounded(row[2], 1e6)})
	}
	return c
}

// rounded to one part of a whole, without a negative zero.
func rounded(v, parts float64) float64 { return math.Round(v*parts)/parts + 0 }

// fitFaces fits reading = S up g + bias by least squares, the directions being
// known. ok is false where the faces do not tell all twelve numbers.
func fitFaces(poses []Pose) (f Fit, ok bool) {
	n := len(poses)
	if n < 4 {
		return f, false
	}
	design, readings := mat.NewDense(n, 4, nil), mat.NewDense(n, 3, nil)
	for i, p := range poses {
		u := up(p.Face)
		design.SetRow(i, []float64{u[0], u[1], u[2], 1}) // S in m/s2 per g
		readings.SetRow(i, p.Accel[:])
	}
	x, covariance, ok := leastSquares(design, readings)
	if !ok {
		return f, false
	}
	var misfit mat.Dense
	misfit.Mul(design, x)
	misfit.Sub(readings, &misfit)
	sum := math.Pow(mat.Norm(&misfit, 2), 2)
	f = Fit{From: FromFaces, RMSMPS2: math.Sqrt(sum / float64(3*n)), Freedom: 3 * (n - 4), Used: n}
	var s mat.Dense
	s.Scale(1/dataset.StandardGravity, x.Slice(0, 3, 0, 3).T())
	var inverse mat.Dense
	if inverse.Inverse(&s) != nil {
		return f, false
	}
	for k := range 3 {
		f.BiasMPS2[k] = x.At(3, k)
		for j := range 3 {
			f.Matrix[k][j] = inverse.At(k, j)
		}
	}
	if f.Freedom > 0 {
		variance := sum / float64(f.Freedom)
		f.BiasSEMPS2, f.MatrixSE = new([3]float64), new([3][3]float64)
		for k := range 3 {
			f.BiasSEMPS2[k] = math.Sqrt(variance * covariance.At(3, 3))
			for j := range 3 {
				f.MatrixSE[k][j] = math.Sqrt(variance*covariance.At(j, j)) / dataset.StandardGravity
			}
		}
	}
	return f, true
}

// sizeModel says what is fitted to gravity's size.
type sizeModel struct {
	scales bool // the bias always
	least  int  // poses
}

// fitSizes fits |D (reading - bias)| = g with D diagonal by Gauss-Newton, from
// no error at all. ok is false where the poses do not tell the numbers.
func fitSizes(poses []Pose, m sizeModel) (f Fit, ok bool) {
	n, columns := len(poses), 3
	if m.scales {
		columns = 6
	}
	if n < m.least {
		return f, false
	}
	const g = dataset.StandardGravity
	scale, bias := [3]float64{1, 1, 1}, [3]float64{}
	misfit := func(p Pose) (v, gradient [3]float64, off float64) {
		for k := range v {
			v[k] = scale[k] * (p.Accel[k] - bias[k])
		}
		length := size(v)
		for k := range v {
			gradient[k] = v[k] / length
		}
		return v, gradient, length - g
	}
	var covariance *mat.Dense
	for range 20 {
		design, target := mat.NewDense(n, columns, nil), mat.NewDense(n, 1, nil)
		for i, p := range poses {
			v, gradient, off := misfit(p)
			for k := range 3 {
				design.Set(i, k, -gradient[k]*scale[k])
				if m.scales {
					design.Set(i, 3+k, gradient[k]*v[k]/scale[k]/g) // scales in parts of g
				}
			}
			target.Set(i, 0, -off)
		}
		var x *mat.Dense
		x, covariance, ok = leastSquares(design, target)
		if !ok {
			return f, false
		}
		largest := 0.0
		for k := range 3 {
			bias[k] += x.At(k, 0)
			largest = max(largest, math.Abs(x.At(k, 0)))
			if m.scales {
				scale[k] += x.At(3+k, 0) / g
			}
		}
		if !(largest < 5) {
			return f, false // runs away: no sensor is so far off
		}
		if largest < 1e-10 {
			break
		}
	}
	sum := 0.0
	for _, p := range poses {
		_, _, off := misfit(p)
		sum += off * off
	}
	f = Fit{From: FromBias, BiasMPS2: bias, Matrix: identity(), RMSMPS2: math.Sqrt(sum / float64(n)), Freedom: n - columns, Used: n}
	if m.scales {
		f.From = FromSizes
		for k := range 3 {
			f.Matrix[k][k] = scale[k]
		}
	}
	if f.Freedom > 0 {
		variance := sum / float64(f.Freedom)
		f.BiasSEMPS2, f.MatrixSE = new([3]float64), new([3][3]float64)
		for k := range 3 {
			f.BiasSEMPS2[k] = math.Sqrt(variance * covariance.At(k, k))
			if m.scales {
				f.MatrixSE[k][k] = math.Sqrt(variance*covariance.At(3+k, 3+k)) / g
			}
		}
	}
	return f, true
}

// leastSquares solves design x = target and returns x and the inverse of
// design' design. ok is false where the design hardly tells its columns apart.
func leastSquares(design, target *mat.Dense) (x, covariance *mat.Dense, ok bool) {
	var svd mat.SVD
	if !svd.Factorize(design, mat.SVDThin) || !(svd.Cond() < mostCondition) {
		return nil, nil, false
	}
	x, covariance = new(mat.Dense), new(mat.Dense)
	_, columns := design.Dims()
	svd.SolveTo(x, target, columns)
	var normal mat.Dense
	normal.Mul(design.T(), design)
	return x, covariance, covariance.Inverse(&normal) == nil
}

func identity() [3][3]float64 { return [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} }
