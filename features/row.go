package features

import (
	"fmt"
	"math"
)

// Row is one strike's features, one value per column, as Extract returns it.
type Row []float64

// Vector returns a vector feature as y + i x, NaN in both parts where it has
// no value. The name of no vector feature panics.
func (r Row) Vector(name string) complex128 {
	d := find(name)
	if !table[d].Vector {
		panic(fmt.Sprintf("features: %q is a scalar", name))
	}
	at := starts[d]
	return complex(r[at+1], r[at])
}

// Scalar returns a scalar feature, NaN where it has no value. The name of no
// scalar feature panics.
func (r Row) Scalar(name string) float64 {
	d := find(name)
	if table[d].Vector {
		panic(fmt.Sprintf("features: %q is a vector", name))
	}
	return r[starts[d]]
}

// Has tells whether every named feature has a value in this row.
func (r Row) Has(names ...string) bool {
	for _, n := range names {
		if math.IsNaN(r[starts[find(n)]]) {
			return false
		}
	}
	return true
}

// Known tells whether there is a feature of that name.
func Known(name string) bool {
	_, ok := places[name]
	return ok
}

// find returns the position of a feature in the table.
func find(name string) int {
	d, ok := places[name]
	if !ok {
		panic(fmt.Sprintf("features: no feature is named %q", name))
	}
	return d
}

// Take replaces a feature's value by that of another row, a vector times turn
// (see dataset/bearing: exp(i b) turns it clockwise by b). An unknown name panics.
func (r Row) Take(name string, from Row, turn complex128) {
	d := find(name)
	at := starts[d]
	if !table[d].Vector {
		r[at] = from[at]
		return
	}
	z := from.Vector(name) * turn
	r[at], r[at+1] = imag(z), real(z)
}
