package corpus

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// What lies among the files of a corpus is the corpus's, by whatever name the file
// system knows it. (A hard link stands for a second name where case matters.)
func TestOwns(t *testing.T) {
	c := fixture(t)
	if err := os.Link(c.path(formatName), c.path("CORPUS.TOML")); err != nil && !errors.Is(err, fs.ErrExist) {
		t.Skipf("a file cannot have two names here: %v", err)
	}
	beside := filepath.Join(c.dir, "report.html")
	if err := os.WriteFile(beside, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]bool{
		c.path(formatName):              true,
		c.path("CORPUS.TOML"):           true,
		c.path("calls/new.csv"):         false, // there is no such folder
		c.path("rigs/new.toml"):         true,
		c.path("samples/rig=a/x"):       false, // there is no such folder
		c.path("samples"):               true,
		c.path("labels"):                true, // though it is not there yet
		beside:                          false,
		c.path("new.csv"):               false,
		filepath.Join(c.dir, "..", "x"): false,
	} {
		if got := Owns(path); got != want {
			t.Errorf("%s: %v, want %v", path, got, want)
		}
	}
}
