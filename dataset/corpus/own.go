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
		if _, err := os.Stat(filepath.Join(folder, formatName)); err == nil && isOwn(folder, below) {
			return true
		}
		parent := filepath.Dir(folder)
		if parent == folder {
			return false
		}
		folder, below = parent, filepath.Base(folder)
	}
}

// isOwn tells whether what lies directly below a corpus is of it. Some file systems
// know one file by several names: in another case, or with a dot at the end.
func isOwn(dir, name string) bool {
	owned := append(folders(), formatName)
	if slices.Contains(owned, name) {
		return true
	}
	info, err := os.Stat(filepath.Join(dir, name))
	return err == nil && slices.ContainsFunc(owned, func(own string) bool {
		is, err := os.Stat(filepath.Join(dir, own))
		return err == nil && os.SameFile(info, is)
	})
}
