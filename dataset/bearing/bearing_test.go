package bearing_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
)

func TestWrap(t *testing.T) {
	for _, c := range []struct{ in, w360, w180 float64 }{
		{0, 0, 0}, {360, 0, 0}, {-360, 0, 0}, {180, 180, 180}, {-180, 180, 180},
		{190, 190, -170}, {-10, 350, -10}, {725, 5, 5}, {-1e-15, 0, 0}, {359.5, 359.5, -0.5},
		{math.NaN(), math.NaN(), math.NaN()}, {math.Inf(1), math.NaN(), math.NaN()},
	} {
		if got := bearing.Wrap360(c.in); !datasettest.Near(got, c.w360, 1e-12) {
			t.Errorf("Wrap360(%g) = %g, want %g", c.in, got, c.w360)
		}
		if got := bearing.Wrap180(c.in); !datasettest.Near(got, c.w180, 1e-12) {
			t.Errorf("Wrap180(%g) = %g, want %g", c.in, got, c.w180)
		}
	}
}

func TestWrapStaysWrapped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-1e6, 1e6).Draw(t, "deg")
		turns := rapid.IntRange(-1000, 1000).Draw(t, "turns")
		w := bearing.Wrap360(deg)
		if w < 0 || w >= 360 || bearing.Wrap360(w) != w {
			t.Fatalf("Wrap360(%g) = %g, want a value in [0, 360) that wraps to itself", deg, w)
		}
		v := bearing.Wrap180(deg)
		if v <= -180 || v > 180 || bearing.Wrap180(v) != v {
			t.Fatalf("Wrap180(%g) = %g, want a value in (-180, 180] that wraps to itself", deg, v)
		}
		if d := math.Abs(bearing.Diff(deg+360*float64(turns), deg)); d > 1e-8 {
			t.Fatalf("%d turns change %g by %g", turns, deg, d)
		}
	})
}

func TestDiffIsSigned(t *testing.T) {
	for _, c := range []struct{ a, b, want float64 }{
		{10, 350, 20}, {350, 10, -20}, {180, 0, 180}, {0, 180, 180}, {90, 90, 0},
	} {
		if got := bearing.Diff(c.a, c.b); got != c.want {
			t.Errorf("Diff(%g, %g) = %g, want %g", c.a, c.b, got, c.want)
		}
	}
}

func TestVectors(t *testing.T) {
	for _, c := range []struct{ x, y, want float64 }{
		{0, 1, 0}, {1, 0, 90}, {0, -1, 180}, {-1, 0, 270}, {1, 1, 45}, {0, 0, 0},
	} {
		if got := bearing.FromVector(c.x, c.y); !datasettest.Near(got, c.want, 1e-12) {
			t.Errorf("FromVector(%g, %g) = %g, want %g", c.x, c.y, got, c.want)
		}
		if got := bearing.Of(complex(c.y, c.x)); !datasettest.Near(got, c.want, 1e-12) {
			t.Errorf("Of(%g + %gi) = %g, want %g", c.y, c.x, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(0, 360).Draw(t, "deg")
		turn := rapid.Float64Range(-360, 360).Draw(t, "turn")
		got := bearing.Of(bearing.Unit(deg) * bearing.Unit(turn))
		if d := math.Abs(bearing.Diff(got, deg+turn)); d > 1e-10 {
			t.Fatalf("turning %g by %g gives %g", deg, turn, got)
		}
	})
}

func TestFaces(t *testing.T) {
	for _, c := range []struct {
		deg   float64
		faces int
		want  int
	}{
		{0, 6, 1}, {29.9, 6, 1}, {30, 6, 2}, {329.9, 6, 6}, {330, 6, 1}, {-31, 6, 6}, {180, 6, 4},
		{44, 4, 1}, {46, 4, 2}, {0, 0, 0}, {math.NaN(), 6, 0}, {math.Inf(-1), 6, 0},
	} {
		if got := bearing.FaceOf(c.deg, c.faces); got != c.want {
			t.Errorf("FaceOf(%g, %d) = %d, want %d", c.deg, c.faces, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		faces := rapid.IntRange(1, 72).Draw(t, "faces")
		face := rapid.IntRange(1, faces).Draw(t, "face")
		off := rapid.Float64Range(-0.499, 0.499).Draw(t, "off")
		deg := bearing.FaceCentre(face, faces) + off*360/float64(faces)
		if got := bearing.FaceOf(deg, faces); got != face {
			t.Fatalf("FaceOf(%g, %d) = %d, want %d", deg, faces, got, face)
		}
	})
}
