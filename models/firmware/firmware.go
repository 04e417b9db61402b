// Package firmware brings a detector to a board.
//
// A board runs the detector from raw samples to events. What it runs is written
// once, in a small subset of Go: features/chain/board finds the strikes,
// models/firmware/answer says where they landed, both in integers. Go runs that
// text itself (Device.Run, behind apply --profile), and Export writes C from the
// same text (models/firmware/translate), so that board and command give the same
// events, byte for byte. NewDevice turns a detector's parameters into the numbers
// of one rig: units, axis map and calibration are folded into them.
//
// An exported directory holds
//
//	strikerose.h        the interface: sample in, event out; the state's type
//	strikerose.c        chain and detector
//	strikerose_table.h  the numbers; can be replaced alone by those of another
//	                    training: its layout and checksum are checked at start
//	table.json          the same numbers with what they are and where they come from
//	vectors.h, check.c  golden streams, samples in and events out, and their check
//	replay.c            reads a log of counts and prints its events
//	example.c           a sketch of a program for a board
//	README.txt          how to build it and what it costs
//
// The C is C99 without heap or recursion. Detectors that are not described here
// are refused with the reason. The package reads fitted detectors and samples,
// never labels; files are the caller's to write.
package firmware
