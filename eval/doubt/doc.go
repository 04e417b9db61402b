// Package doubt ranks labels that are probably wrong, so that a person checks
// from the top. It changes nothing.
//
// A label is judged by estimates that it had no part in. The first opinion is
// a rule that knows the rig file alone; the second is a fitted detector,
// trained on the other sessions (on the other blocks of the strikes where a rig
// has one session), without the labels that the first opinion doubts. How far
// each may be trusted is measured on the labels themselves, by medians, which
// a few wrong labels do not move.
//
// # Model
//
// Given a right label, the difference between label and estimate has a Student
// t distribution with four degrees of freedom, since detectors err now and then
// farther than they say (Lange, Little and Taylor 1989, Journal of the American
// Statistical Association 84:881-896). Its scale combines the label's own
// scatter (a plan: 8 degrees, 4 cm) with the detector's stated standard
// deviation, times a factor measured for each rig revision. The opinions are
// mixed with weights that fit the labels best (expectation maximisation). A
// wrong label is the same with another face, the opposite one, another band, or
// both; or it may be anything.
//
//   - A session's faces are first compared as a whole: numbered clockwise or
//     anticlockwise, turned by any angle. Against the turn that most sessions
//     on the same rig revision share, a turn by whole faces says that the
//     labels count from another face, another turn that the sensor moved.
//   - Along a session, a hidden Markov model (Rabiner 1989, Proceedings of the
//     IEEE 77:257-286) moves between labels that belong to their own strike and
//     labels that belong to the strike one or two before or after: a slip.
//   - The shares of each fault are estimated from the labels, drawn toward
//     few (expectation maximisation with a Dirichlet prior).
//
// A score is the probability, under this model, that the label is wrong.
// Windows unlike any other, strikes labelled twice and samples that stand in
// two sessions are looked for apart from it.
package doubt
