package corpus

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Owns tells whether a path lies among the files of the corpus in dir, where
// nothing but this package and the label journal may write. Other files may lie
// beside them, directly below dir. Where dir holds no corpus it is false.
func Owns(dir, path string) bool {
	dir, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return false
	}
	const mark = "corpus.toml"
	if _, err := os.Stat(filepath.Join(dir, mark)); err != nil {
		return false
	}
	folder, err := filepath.EvalSymlinks(filepath.Dir(path))
	if err != nil {
		return false
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return false
	}
	if folder, err = filepath.Abs(folder); err != nil {
		return false
	}
	rel, err := filepath.Rel(dir, filepath.Join(folder, filepath.Base(path)))
	if err != nil || !filepath.IsLocal(rel) {
		return false
	}
	first, _, _ := strings.Cut(filepath.ToSlash(rel), "/")
	return first == mark || slices.Contains(folders(), first)
}
