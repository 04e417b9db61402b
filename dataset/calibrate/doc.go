// Package calibrate finds what a sensor reads wrong from logs in which it lies
// still in several poses: bias, scale and axis alignment of the accelerometer,
// bias of the gyroscope, and the noise of both.
//
// It holds the search for still stretches in a signal, the fit of the six faces
// of a box, the fit to gravity's size in poses of any kind, and the Allan
// deviation. It says which numbers the poses tell and with what standard error,
// and leaves out those that they do not tell. Gravity is taken as standard:
// where one lives it differs by up to 0.3 %, and scales are off by as much.
//
// It reads no logs and writes no rig files: it takes signals from dataset and
// gives a rig.Calibration.
package calibrate
