// Package tune finds out how a family of detectors is best fitted, and what each
// of its features is worth.
//
// Search tries a family's settings by cross-validation over whole sessions, and
// measures what comes of that on sessions that the search has not seen: the least
// of many errors is smaller than the error to come. Importance tells what a
// detector loses when a group of features no longer belongs to the strike. Thin
// leaves out features, the least worth their cost first, and tells the error of
// each step, again on unseen sessions.
//
// It sits above eval, whose criterion and intervals it uses, and beside
// eval/doubt.
package tune
