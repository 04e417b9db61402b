// Package rigs holds the rig files of one made-up bag before and after its
// core and sensor were moved, for the demo. Nobody measured them.
package rigs

import "embed"

// Files holds before.toml and after.toml.
//
//go:embed before.toml after.toml
var Files embed.FS
