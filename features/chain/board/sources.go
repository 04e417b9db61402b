package board

import "embed"

// Sources are the files that make the C.
//
//go:embed table.go chain.go despike.go noise.go find.go event.go level.go window.go unclip.go
var Sources embed.FS
