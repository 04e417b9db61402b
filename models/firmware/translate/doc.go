// Package translate writes C99 from a small subset of Go.
//
// A detector for a board is written once, in Go. The command runs that Go; the
// board runs the C that this package writes from the same text, with the same
// names and comments. The subset is what both languages define alike: integers
// of stated width, arrays, structs, pointers into them, plain control flow. What
// lies outside is refused with its place and how to mend it, also what C leaves
// undefined and Go does not: a shift by too much, a division without a guard, an
// order of calls that matters. Signed overflow is the author's to exclude (Go wraps,
// C need not), and so is an index outside its array (Go stops, C does not).
//
// A whole program of several packages becomes one header and one code file.
// Only what the public functions reach is written. A field may be fixed to a
// constant: branches on it are settled while translating and what only the
// others need is left out, so that one Go source gives a lean C for each
// detector. A pointer to constant memory may be made global.
//
// # Types
//
// Bool, the sized integers, float32, named types of these, structs, fixed arrays.
// A slice is a field with the macro of its size, made once to its full length in a
// file that is not translated; an array in C:
//
//	ring []int16 `c:"RING"`
//
// A slice parameter is a bare pointer: pass the count with it. Pointers are
// parameters, receivers, locals that point into something, results that point into
// a parameter, and fields that are read only and set in such a file:
//
//	table *Table `c:"const"`
//
// What nothing writes through is const in C. In Go a variable lives as long as
// something points to it, in C as long as its block: a pointer is given the address
// of nothing that ends before it. A struct that holds slices is never
// copied. Plain int only counts elements: it comes from range and len, indexes,
// compares and is converted.
//
// # Arithmetic
//
// In int32, uint32, int64, uint64 and float32. The narrower types store; of the
// unsigned ones also + - & | ^ &^ >>, which wrap. Left shifts are of unsigned
// values. A count is a constant, masked in place (x >> (n & 31)), or what counts a
// loop of constant length. A divisor is a constant, a variable that an if above
// guards, or max(x, 1). A float product is wrapped, float32(a*b), unless it is only
// multiplied, divided by or compared: Go may fuse it with a sum that takes it, also
// behind a variable or a call. A float becomes an integer only in a function marked
// //c:inrange, which holds it to the range first. A function marked
// //c:extern NAME has its Go body in Go alone; C calls NAME.
//
// # Statements
//
// One assignment at a time; if, for, range over counts and arrays, switch on
// constants or conditions, break, continue, return. A loop over the values of an
// array changes neither them nor which array it is. Functions have one result or
// none and never call themselves. A call that writes through a pointer stands
// alone: as the statement, the right side, or the condition. min, max and len are
// the builtins.
//
// # Constants
//
// Constants, and tables: package-level arrays of constants with names of their
// own package, never written. A type or a group of constants marked //c:whole is
// written whole, used or not.
//
// # Names
//
// In snake case: method Push of Ring is ring_push, of the package's part, if it has
// one, part_ring_push; types and constants have the program's prefix. Names of
// variables and fields that are words of C get _ behind.
//
// The package reads no files and knows nothing of strikes. It is used by
// models/firmware; translatetest holds programs that Go and C must run alike.
package translate
