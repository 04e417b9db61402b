// Package drift tells whether a session still looks like those that a detector
// was trained on, without a label: whether the bag has sagged, the sensor has
// slipped, or people strike otherwise than before.
//
// Look takes a session's numbers: of each strike, how hard, how oblique and how
// high it was and how well the bag's own motion fits it; of the whole session,
// the frequencies of the free motion, where the sensor sits on the swinging bag,
// and which way it hangs at rest. Training keeps them in the detector's file.
// Compare holds a later session against them.
//
// Spreads are compared by the two-sample test of Smirnov, figures by their
// difference over its standard error. All p-values of a session are corrected
// together by Holm's method. As evenings differ by themselves, a small p-value is
// not enough: a spread must also differ more than any session trained on differs
// from the others, and a figure's standard error holds what such figures change
// between evenings on a bag that nobody touched.
//
// What cannot be seen without labels is a mount that has turned about the bag's
// own axis: it turns every bearing, and nothing else.
package drift
