package answer

import (
	"embed"
	"io/fs"
)

//go:embed table.go detector.go ratio.go aligned.go float.go
var source embed.FS

// Source holds the files of the package that are translated to C.
func Source() fs.FS { return source }
