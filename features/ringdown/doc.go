// Package ringdown measures how a bag moves by itself: frequency and decay of
// its swing, its rocking and its twist, and where the sensor sits on the swinging
// bag, all from the unlabelled motion between strikes.
//
// It cuts the stretches between strikes out of a signal, fits damped sinusoids
// that all stretches share, and resamples strikes for intervals. It takes
// samples in the sensor's frame and the onsets of strikes; it knows neither
// labels nor files. What it finds is of the amplitudes at which the bag moved:
// a pendulum that swings wider is slower, so rocking comes out a few percent
// below what a rig file computes for small motion.
package ringdown
