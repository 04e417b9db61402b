package board

import (
	"embed"
	"io/fs"
)

//go:embed table.go chain.go despike.go noise.go find.go event.go level.go window.go unclip.go
var source embed.FS

// Source holds the files of the package that are translated to C.
func Source() fs.FS { return source }
