// Package fixed is arithmetic in integers for a board without floating point:
// saturating sums, rounded products and quotients, square roots, angles, and
// the few functions that detectors need.
//
// A fixed-point number is an integer and an agreed power of two: of a Q15 the
// value is the integer over 2^15. Angles are binary: a whole turn is 2^32, so
// that they wrap by themselves; as int32 they run from -180 degrees up to 180.
// Rounding is half up unless said otherwise, what leaves a type's range is held
// at its limit.
//
// The files listed in Source are written in the subset of Go that
// models/firmware/translate writes in C: the same text serves both. The package
// sits beside the steps of features/chain that a board runs too, and imports
// nothing of the project.
package fixed
