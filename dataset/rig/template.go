package rig

import (
	_ "embed"
	"strconv"
	"strings"
)

//go:embed template.toml
var template string

// Template returns a commented rig file to fill in, for a rig of some name.
// The values that it holds are plausible and valid, yet no real bag's; only
// with a name that ValidName refuses does Parse refuse the file.
func Template(name string) []byte {
	return []byte(strings.NewReplacer(`"my-bag"`, strconv.Quote(name), "# CAUTIONS", commented(Cautions)).Replace(template))
}
