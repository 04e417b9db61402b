package fixed

import (
	"embed"
	"io/fs"
)

//go:embed saturate.go multiply.go divide.go root.go angle.go log.go tanh.go float.go check.go
var source embed.FS

// Source holds the files of the package that are translated to C.
func Source() fs.FS { return source }
