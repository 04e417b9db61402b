// Package advice says what a rig can do and how to better it, from its file
// alone: free motions, spread of mass, dead height, flips of peak and
// arctangent, the least errors of any detector (eval/bound), and short pieces
// of advice ranked by what they gain.
//
// A [Sheet] is all of that for one rig, a [Change] for two. Both are plain
// values whose JSON is stable: keys may be added, and [Version] is raised when
// one changes its meaning. Lengths are metres, heights metres above the bag's
// bottom edge, depths metres below its top edge, shares 0 to 1, and null is
// what does not exist or cannot be told.
//
// # One currency
//
// Advice is ranked by strikes in a hundred that it keeps from going wrong, for
// strikes spread evenly over the faces and along the bag: put on the wrong face
// or in the wrong band by a detector at the least error, thrown to the far side
// by peak and arctangent, or clipped when hard. Which one is meant stands in
// the advice's gain.
//
// Least errors come in two kinds. The sensor's limit takes the sensor's noise
// alone and a rig that is known exactly. The workable limit adds noise for what
// the model leaves out and doubt about the rig's constants, both the usual ones
// of eval/bound. Even the workable one is a bound: what is found lies above it.
package advice
