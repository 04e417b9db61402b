// Package bound computes how well bearing and height of a strike could be read
// at best, from a rig, its sensor's noise, its rate and a window: the
// Cramér-Rao bound (Rao 1945, Cramér 1946; Kay, Fundamentals of Statistical
// Signal Processing, 1993, chapter 3). No detector without bias can have a
// smaller standard deviation, so it is the yardstick for detectors and the
// adviser on where to put a sensor and whether a gyroscope pays.
//
// # Model
//
// A bag is the double pendulum of [rig.Mechanics] in every vertical plane, for
// small angles. A strike is a half-sine pulse of force, flat across the bag. In
// each of two planes, along the push and across it, the sensor at depth s reads
//
//	f = y'' + s q'' + g q   and, with a gyroscope,   q'
//
// in the sensor's white noise and, on request, [ModelNoise] that holds on from
// sample to sample, both the same in both planes. Unknown beside bearing and height
// are impulse, pulse length, onset, an earlier swing in both modes and both
// planes, the biases of every channel and, on request, the rig's constants
// within a prior ([RigPrior]). The bag hangs still before the strike on
// average; that it may swing is a cost in what must be fitted.
//
// To first order nothing but the bearing moves the readings across the push,
// and the bearing does not move those along it. The information falls into two
// parts, and neither depends on the bearing itself.
//
// # What is left out
//
// Landing beside the middle of the push (hooks) and twist, so readings about
// the vertical are not used; the turn of the mount, which only labels find; and
// clipping. A real bag flexes and rings besides: [ModelNoise] stands for that.
// It knows how large a bag's own errors are and how long they hold on, not what
// they look like, so even the bound with it lies below what is found.
package bound
