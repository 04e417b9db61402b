// Package recordings holds the two committed recordings of a simulated bag,
// with the rig file, plans and timed truth, for the demo and for tests. The
// README beside it says where they come from.
package recordings

import "embed"

// Files holds hall.toml, and for monday and friday the log, NAME-plan.csv
// and NAME-truth.csv, and monday-video.csv.
//
//go:embed hall.toml monday.csv.zst monday-plan.csv monday-truth.csv monday-video.csv friday.bin.zst friday-plan.csv friday-truth.csv
var Files embed.FS
