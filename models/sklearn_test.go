package models

import (
	"math"
	"slices"
	"testing"

	"strikerose/dataset/datasettest"
)

// shipped is a data set as scikit-learn ships it.
type shipped struct {
	Rows   [][]float64
	Target []float64
}

// sklearnReference mirrors a part of testdata/reference/sklearn.json.
type sklearnReference struct {
	Data  struct{ Iris, Wine, Diabetes shipped }
	Ridge []struct {
		Alpha, Intercept, R2 float64
		Coef                 []float64
	}
	CosSin struct {
		Alpha, Least, Most float64
		Coef               [][]float64 `json:"coef_cos_sin"`
		Intercept          []float64   `json:"intercept_cos_sin"`
		MeanErrorRad       float64     `json:"mean_error_rad"`
		FirstRad           []float64   `json:"first_rad"`
	} `json:"ridge_cos_sin"`
	KNN struct {
		Wine struct {
			Mean, SD     []float64
			Standardised []struct {
				K, Correct int
				Confusion  [][]int
			}
			PlainK5Correct int `json:"plain_k5_correct"`
		}
		Iris     struct{ K, Correct, Tests int }
		Diabetes struct {
			K          int
			Uniform    knnScores
			ByDistance knnScores `json:"by_distance"`
		}
	}
}

type knnScores struct {
	RMSE, MAE float64
	First5    []float64
}

func sklearnValues(t *testing.T) sklearnReference {
	t.Helper()
	var ref sklearnReference
	datasettest.Reference(t, "sklearn.json", &ref)
	if len(ref.Ridge) != 3 || len(ref.KNN.Wine.Standardised) != 4 {
		t.Fatal("sklearn.json lacks values")
	}
	return ref
}

func nearAll(t *testing.T, what string, got, want []float64, tol float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %v, want %v", what, got, want)
	}
	for i := range want {
		if !datasettest.Near(got[i], want[i], tol) {
			t.Errorf("%s %d: %.12g, want %.12g", what, i, got[i], want[i])
		}
	}
}

// centredRidge is ridge with an intercept that is not penalised: columns and
// target are centred first.
func centredRidge(t *testing.T, rows [][]float64, target []float64, strength float64) (weights []float64, intercept float64) {
	t.Helper()
	n := float64(len(rows))
	mean := make([]float64, len(rows[0]))
	var of float64
	for i, row := range rows {
		for k, v := range row {
			mean[k] += v / n
		}
		of += target[i] / n
	}
	x, y := make([][]float64, len(rows)), make([]float64, len(rows))
	for i, row := range rows {
		y[i] = target[i] - of
		for k, v := range row {
			x[i] = append(x[i], v-mean[k])
		}
	}
	weights, err := ridge(x, y, strength)
	if err != nil {
		t.Fatal(err)
	}
	for k, w := range weights {
		of -= w * mean[k]
	}
	return weights, of
}

func line(weights []float64, intercept float64, row []float64) float64 {
	for k, w := range weights {
		intercept += w * row[k]
	}
	return intercept
}

// TestRidgeAgainstSklearn compares ridge regression with scikit-learn's on its
// diabetes data, also to cosine and sine of an angle.
func TestRidgeAgainstSklearn(t *testing.T) {
	ref := sklearnValues(t)
	d := ref.Data.Diabetes
	for _, want := range ref.Ridge {
		w, intercept := centredRidge(t, d.Rows, d.Target, want.Alpha)
		nearAll(t, "coefficient", w, want.Coef, 1e-9)
		nearAll(t, "intercept", []float64{intercept}, []float64{want.Intercept}, 1e-9)
		var mean, left, all float64
		for _, y := range d.Target {
			mean += y / float64(len(d.Target))
		}
		for i, y := range d.Target {
			left += math.Pow(y-line(w, intercept, d.Rows[i]), 2)
			all += math.Pow(y-mean, 2)
		}
		nearAll(t, "R2", []float64{1 - left/all}, []float64{want.R2}, 1e-9)
	}

	c := ref.CosSin
	angle := make([]float64, len(d.Target))
	cos, sin := slices.Clone(angle), slices.Clone(angle)
	for i, y := range d.Target {
		angle[i] = 2 * math.Pi * (y - c.Least) / (c.Most - c.Least + 1)
		sin[i], cos[i] = math.Sincos(angle[i])
	}
	wc, ic := centredRidge(t, d.Rows, cos, c.Alpha)
	ws, is := centredRidge(t, d.Rows, sin, c.Alpha)
	nearAll(t, "coefficient of the cosine", wc, c.Coef[0], 1e-9)
	nearAll(t, "coefficient of the sine", ws, c.Coef[1], 1e-9)
	nearAll(t, "intercept", []float64{ic, is}, c.Intercept, 1e-9)
	var off float64
	var first []float64
	for i, row := range d.Rows {
		got := math.Atan2(line(ws, is, row), line(wc, ic, row))
		off += math.Abs(math.Remainder(got-angle[i], 2*math.Pi)) / float64(len(d.Rows))
		if got < 0 {
			got += 2 * math.Pi
		}
		if len(first) < len(c.FirstRad) {
			first = append(first, got)
		}
	}
	nearAll(t, "angle", first, c.FirstRad, 1e-9)
	nearAll(t, "mean error", []float64{off}, []float64{c.MeanErrorRad}, 1e-9)
}

// memoryOf remembers rows, with the target in place of a rise.
func memoryOf(rows [][]float64, target []float64, k int) *Nearest {
	n := &Nearest{Neighbours: k}
	for i, row := range rows {
		n.Memory = append(n.Memory, NearMemory{At: row, RiseM: target[i]})
	}
	return n
}

// vote is the class of most of the neighbours, the smaller among equals.
func vote(found []neighbour, classes int) int {
	votes := make([]int, classes)
	for _, f := range found {
		votes[int(f.RiseM)]++
	}
	return slices.Index(votes, slices.Max(votes))
}

// part splits a data set; test tells which rows are not remembered.
func (s shipped) part(test func(i int) bool) (train, held shipped) {
	for i, row := range s.Rows {
		to := &train
		if test(i) {
			to = &held
		}
		to.Rows, to.Target = append(to.Rows, row), append(to.Target, s.Target[i])
	}
	return train, held
}

// right counts the rows whose nearest vote for their class.
func right(train, held shipped, k int) (correct int, confusion [][]int) {
	n := memoryOf(train.Rows, train.Target, k)
	classes := int(slices.Max(train.Target)) + 1
	for range classes {
		confusion = append(confusion, make([]int, classes))
	}
	for i, row := range held.Rows {
		got := vote(n.nearest(row)[:k], classes)
		confusion[int(held.Target[i])][got]++
		if got == int(held.Target[i]) {
			correct++
		}
	}
	return correct, confusion
}

// TestNearestAgainstSklearn compares the nearest with what scikit-learn makes of
// them: classes of wines and irises, and a number by the mean of the nearest,
// plain or by one over the distance.
func TestNearestAgainstSklearn(t *testing.T) {
	ref := sklearnValues(t)
	train, held := ref.Data.Wine.part(func(i int) bool { return i%3 == 2 })
	if got, _ := right(train, held, 5); got != ref.KNN.Wine.PlainK5Correct {
		t.Errorf("wines as they are: %d right, want %d", got, ref.KNN.Wine.PlainK5Correct)
	}
	for _, s := range []*shipped{&train, &held} {
		for i, row := range s.Rows {
			s.Rows[i] = slices.Clone(row)
			for k := range row {
				s.Rows[i][k] = (row[k] - ref.KNN.Wine.Mean[k]) / ref.KNN.Wine.SD[k]
			}
		}
	}
	for _, want := range ref.KNN.Wine.Standardised {
		if got, confusion := right(train, held, want.K); got != want.Correct || !slices.EqualFunc(confusion, want.Confusion, slices.Equal) {
			t.Errorf("wines, %d nearest: %d right, %v; want %d, %v", want.K, got, confusion, want.Correct, want.Confusion)
		}
	}

	train, held = ref.Data.Iris.part(func(i int) bool { return i%5 == 4 })
	if got, _ := right(train, held, ref.KNN.Iris.K); got != ref.KNN.Iris.Correct || len(held.Rows) != ref.KNN.Iris.Tests {
		t.Errorf("irises: %d right of %d, want %d of %d", got, len(held.Rows), ref.KNN.Iris.Correct, ref.KNN.Iris.Tests)
	}

	d := ref.KNN.Diabetes
	train, held = ref.Data.Diabetes.part(func(i int) bool { return i%4 == 3 })
	n := memoryOf(train.Rows, train.Target, d.K)
	for _, c := range []struct {
		name   string
		weight func(distance float64) float64
		want   knnScores
	}{
		{"plain mean", func(float64) float64 { return 1 }, d.Uniform},
		{"by distance", func(distance float64) float64 { return 1 / distance }, d.ByDistance},
	} {
		var square, size float64
		var first []float64
		for i, row := range held.Rows {
			var sum, total float64
			for _, f := range n.nearest(row)[:d.K] {
				w := c.weight(f.distance)
				sum, total = sum+w*f.RiseM, total+w
			}
			miss := sum/total - held.Target[i]
			square, size = square+miss*miss, size+math.Abs(miss)
			if len(first) < len(c.want.First5) {
				first = append(first, sum/total)
			}
		}
		tests := float64(len(held.Rows))
		nearAll(t, c.name+", errors", []float64{math.Sqrt(square / tests), size / tests}, []float64{c.want.RMSE, c.want.MAE}, 1e-9)
		nearAll(t, c.name, first, c.want.First5, 1e-9)
	}
}

// TestKernel: by hand, half the bandwidth leaves (7/8)^3, and the bandwidth
// nothing; where all are equally far, all count alike.
func TestKernel(t *testing.T) {
	n := memoryOf([][]float64{{0}, {1}, {2}, {9}}, make([]float64, 4), 2)
	_, w := n.kernelWeights(n.nearest([]float64{0}))
	near := math.Pow(7.0/8, 3)
	nearAll(t, "weight", w, []float64{1 / (1 + near), near / (1 + near)}, 1e-12)

	n = memoryOf([][]float64{{1}, {1}, {1}}, make([]float64, 3), 2)
	for _, at := range []float64{1, 4} {
		_, w = n.kernelWeights(n.nearest([]float64{at}))
		nearAll(t, "weight among equals", w, []float64{0.5, 0.5}, 1e-12)
	}

	n = memoryOf([][]float64{{1}}, make([]float64, 1), 1)
	_, w = n.kernelWeights(n.nearest([]float64{4}))
	nearAll(t, "weight of the only one", w, []float64{1}, 1e-12)
}
