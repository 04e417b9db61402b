package rig

import (
	_ "embed"
	"strings"
)

//go:embed template.toml
var template string

// Template returns a commented rig file to fill in, for a rig of some name.
// A name that ValidName refuses is replaced by my-bag. The values that it
// holds are plausible and valid, yet no real bag's.
func Template(name string) []byte {
	if ValidName(name) != nil {
		name = "my-bag"
	}
	return []byte(strings.Replace(template, "my-bag", name, 1))
}
