// Package signal holds the filters and the peak finding that features are
// made with: Butterworth sections, a cascade that runs them one sample at a
// time, Savitzky-Golay smoothing and peaks with prominence and width. It works
// on plain slices in whatever unit they are in, knows nothing of bags or
// strikes, and imports nothing of the project.
//
// It does not look for missing samples: nothing may be filtered across the end
// of a segment. A NaN or infinite sample spoils a cascade until it is reset.
package signal
