package npy_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/npy"
)

func written[T npy.Number](t *testing.T, columns int, rows [][]T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := npy.Write(&b, columns, rows); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWrite(t *testing.T) {
	datasettest.Golden(t, "f8.npy", written(t, 3, [][]float64{{1, -2.5, math.NaN()}, {math.Pi, 1e300, math.Inf(1)}}))
	datasettest.Golden(t, "f4.npy", written(t, 2, [][]float32{{1, -2.5}, {float32(math.Pi), 0}}))
	datasettest.Golden(t, "empty.npy", written(t, 4, [][]float64{}))
	if err := npy.Write(new(bytes.Buffer), 2, [][]float64{{1, 2}, {3}}); err == nil {
		t.Error("rows of two lengths are written")
	}
}

// NumPy itself reads what was written, bit by bit.
func TestNumPyReads(t *testing.T) {
	python := numpy(t)
	for _, c := range []struct {
		name, dtype string
		data        []byte
		shape       []int
		numbers     []float64
	}{
		{"float64", "float64", written(t, 2, [][]float64{{1, -2.5}, {math.Pi, 1e300}, {5e-324, -0.1}}), []int{3, 2}, []float64{1, -2.5, math.Pi, 1e300, 5e-324, -0.1}},
		{"float32", "float32", written(t, 1, [][]float32{{0.1}, {-7}}), []int{2, 1}, []float64{float64(float32(0.1)), -7}},
		{"no rows", "float64", written(t, 12345, [][]float64{}), []int{0, 12345}, []float64{}},
	} {
		path := filepath.Join(t.TempDir(), "table.npy")
		if err := os.WriteFile(path, c.data, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "-c", `
import json, sys, numpy
a = numpy.load(sys.argv[1], mmap_mode=None, allow_pickle=False)
print(json.dumps({"dtype": str(a.dtype), "shape": a.shape, "numbers": a.astype(float).ravel().tolist()}))`, path).CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", c.name, err, out)
		}
		var got struct {
			Dtype   string
			Shape   []int
			Numbers []float64
		}
		if err := json.Unmarshal(out, &got); err != nil {
			t.Fatalf("%s: %v in %s", c.name, err, out)
		}
		if got.Dtype != c.dtype {
			t.Errorf("%s: NumPy reads %s", c.name, got.Dtype)
		}
		if diff := cmp.Diff(c.shape, got.Shape); diff != "" {
			t.Errorf("%s: shape (-want +got):\n%s", c.name, diff)
		}
		if diff := cmp.Diff(c.numbers, got.Numbers); diff != "" {
			t.Errorf("%s: numbers (-want +got):\n%s", c.name, diff)
		}
	}
}

// numpy finds a Python that has NumPy: the system's, or the first on the path.
func numpy(t *testing.T) string {
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import numpy").Run() == nil {
			return python
		}
	}
	datasettest.Missing(t, "NumPy", "apt-get install python3-numpy")
	return ""
}
