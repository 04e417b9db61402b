// Package eval judges detectors: it joins signals with labels, splits sessions
// into training and test, scores estimates by one definition a measure, and
// says how sure each score is and which detectors can be told apart.
//
// It sits above label, features and models, and is the only place where signal
// and label meet, so that leakage can be audited here: detectors see windows
// that come from samples alone, and no session is ever on both sides of a
// split. It reads through the small interface [Source] and writes nothing;
// eval/report turns a [Comparison] into text, tables and a page.
//
// Angles are degrees, heights metres above the bag's bottom edge, times
// nanoseconds on a session's repaired clock. Every figure carries the number
// of strikes, the number and kind of resampling units, and an interval.
package eval
