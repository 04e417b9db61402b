package corpus

import (
	"os"
	"path/filepath"
	"slices"
)

// Owns tells whether a path lies among the files of a corpus, where nothing but
// this package and the label journal may write. Other files may lie beside them,
// directly below the corpus.
func Owns(path string) bool {
	folder, err := filepath.Abs(filepath.Dir(path))
	if err == nil {
		folder, err = filepath.EvalSymlinks(folder)
	}
	if err != nil {
		return false
	}
	below := filepath.Base(path) // what of the path lies directly below folder
	for {
		if below == formatName || slices.Contains(folders(), below) {
			if _, err := os.Stat(filepath.Join(folder, formatName)); err == nil {
				return true
			}
		}
		parent := filepath.Dir(folder)
		if parent == folder {
			return false
		}
		folder, below = parent, filepath.Base(folder)
	}
}
