// Package translatetest holds small programs in the subset of Go that
// translate turns into C, one for each thing that the two languages must do
// alike. A test runs each in Go and, translated and compiled, in C on the same
// random numbers, and wants the same results.
package translatetest

import (
	"embed"
	"io/fs"
)

//go:embed programs.go state.go words.go
var source embed.FS

// Source holds the files that are translated.
func Source() fs.FS { return source }

// Program is one program: it computes out from in.
type Program struct {
	Name string // of the Go function
	Run  func(in, out *Words)
}

// Programs lists them.
func Programs() []Program {
	return []Program{
		{"Wrap32", Wrap32}, {"Wrap64", Wrap64}, {"Narrow", Narrow}, {"Bits", Bits}, {"Shifts", Shifts}, {"Divide", Divide},
		{"Compare", Compare}, {"Convert", Convert}, {"Literals", Literals}, {"Whole", Whole}, {"Precedence", Precedence}, {"Loops", Loops},
		{"Arrays", Arrays}, {"Grid", Grid}, {"Structs", Structs}, {"Pointers", Pointers}, {"Counted", Counted}, {"Slices", Slices}, {"Switches", Switches},
		{"Tables", Tables}, {"Extremes", Extremes}, {"Shadows", Shadows}, {"Logic", Logic}, {"Alone", Alone}, {"Named", Named},
		{"Floats", Floats}, {"Library", Library}, {"Library64", Library64}, {"State", State},
	}
}
