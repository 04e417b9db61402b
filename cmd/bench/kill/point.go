package kill

import (
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Point is a system call by which a process changed a file, or told its user
// what it did.
type Point struct {
	Call  string // create, write, half a write, truncate, chmod, sync, rename, remove, mkdir or answer
	Where string // part of the corpus, or output
	Path  string // absolute; of a rename the new name
	From  string // the old name of a rename
}

// answer is the Call of a write to standard output or error, or to a browser.
const answer = "answer"

// ended is how a process ended.
type ended struct {
	seen   []Point
	killed bool
	status int // exit status, where it was not killed
}

// area is the part of a scratch directory that a path lies in, slash-separated.
func area(rel string) string {
	first, rest, _ := strings.Cut(rel, "/")
	if first != gymName {
		return first
	}
	part, _, below := strings.Cut(rest, "/")
	if !below && part != "" && strings.Contains(path.Base(part), "corpus.toml") {
		return "corpus.toml"
	}
	if part == "" {
		return "corpus"
	}
	return part
}

// Unsynced replays what a process did and returns what was not yet sure to
// outlast a loss of power when it answered, or ended: files whose bytes were not
// synced, folders whose entries were not, and files that were renamed before they
// were synced. Lock files are left out, since nothing depends on them.
func Unsynced(points []Point) []string {
	dirty := make(map[string]string) // by path, with the reason
	var faults []string
	for _, p := range append(slices.Clone(points), Point{Call: answer}) {
		if strings.Contains(filepath.ToSlash(p.Path), "/.locks") {
			continue
		}
		folder := filepath.Dir(p.Path)
		switch p.Call {
		case "create":
			dirty[p.Path] = "is new"
			if !temporary(p.Path) { // harmless where it vanishes; what it becomes is renamed
				dirty[folder] = "holds the new entry " + filepath.Base(p.Path)
			}
		case "write", "half a write", "truncate":
			dirty[p.Path] = "was written"
		case "sync":
			delete(dirty, p.Path)
		case "rename":
			if why, ok := dirty[p.From]; ok {
				faults = append(faults, p.From+" "+why+" and was renamed before it was synced")
			}
			delete(dirty, p.From)
			dirty[filepath.Dir(p.From)] = "no longer holds the entry " + filepath.Base(p.From)
			dirty[folder] = "holds the renamed entry " + filepath.Base(p.Path)
		case "mkdir":
			dirty[folder] = "holds the new folder " + filepath.Base(p.Path)
		case "remove":
			delete(dirty, p.Path)
			if temporary(p.Path) || strings.Contains(p.Path, "=") && !strings.HasSuffix(p.Path, ".parquet") {
				continue // a leftover, or an empty folder of a partition: harmless where it comes back
			}
			dirty[folder] = "no longer holds the entry " + filepath.Base(p.Path)
		case answer:
			for path, why := range dirty {
				faults = append(faults, path+" "+why+" and was not synced before the answer")
			}
			clear(dirty)
		}
	}
	slices.Sort(faults)
	return faults
}
