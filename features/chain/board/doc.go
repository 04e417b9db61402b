// Package board is the chain as a microcontroller runs it: from raw counts and
// the board's own stamps to strikes, in integers, with memory fixed when it is
// made.
//
// It finds what features/onset finds, by the same rules: fill, despike, trigger
// on second differences of short means, collect, mend, place the onset by the
// Akaike criterion, tell a strike from a blip, a swing, a shove and a snatch. Of
// a strike it gives sums of counts over stretches of time, from which
// models/firmware/answer makes an answer. It works on the sensor's own axes; the
// axis map, the calibration and the units stand in the numbers of the Table.
//
// All but this file, the constructors in new.go and source.go is written in the
// subset of Go that models/firmware/translate turns into C, so that a board runs
// this very text.
package board
