// Package answer is a detector as a microcontroller runs it: samples in, events
// out, on top of features/chain/board.
//
// All but this file, make.go and source.go is written in the subset of Go that
// models/firmware/translate turns into C. One Table holds every number, so that
// another one can take its place; models/firmware makes it from a detector.
package answer
