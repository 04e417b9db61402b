package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"strikerose/dataset/corpus"
)

// logFile is one log to import.
type logFile struct {
	name   string // for messages
	path   string // to open; "-" for standard input
	walked bool   // found in a directory rather than named
	stream bool   // can be read only once
	size   int64  // bytes, -1 where not known
}

// gatherLogs turns arguments into logs, directories into the files below
// them in order of their path. Hidden files and what corpora hold are left out;
// skipped names them.
func gatherLogs(args []string, skipped func(path, why string)) ([]logFile, error) {
	var logs []logFile
	for _, arg := range matched(args) {
		if arg == "-" {
			logs = append(logs, logFile{name: "standard input", path: "-", stream: true, size: -1})
			continue
		}
		info, err := os.Stat(arg)
		if err != nil {
			return nil, fmt.Errorf("import: %w", err)
		}
		if !info.IsDir() {
			if hidden(filepath.Base(arg)) {
				skipped(arg, "is a hidden file")
				continue
			}
			logs = append(logs, newLogFile(arg, info, false))
			continue
		}
		within := corpus.Owns(arg) // logs that another corpus holds
		err = filepath.WalkDir(arg, func(path string, entry fs.DirEntry, err error) error {
			if err != nil {
				return fmt.Errorf("import: %w", err)
			}
			switch {
			case path == arg || within:
			case corpus.Owns(path): // of the corpus that arg itself is
				if entry.IsDir() {
					return fs.SkipDir
				}
				return nil
			case entry.IsDir() && corpus.Owns(filepath.Join(path, "corpus.toml")):
				skipped(path, "is a corpus")
				return fs.SkipDir
			}
			if path != arg && hidden(entry.Name()) {
				if entry.IsDir() {
					skipped(path, "is a hidden directory")
					return fs.SkipDir
				}
				skipped(path, "is a hidden file")
				return nil
			}
			if entry.IsDir() {
				return nil
			}
			info, err := os.Stat(path) // follows a link to a file
			if errors.Is(err, fs.ErrNotExist) {
				skipped(path, "is a link to nothing")
				return nil
			}
			if err != nil {
				return fmt.Errorf("import: %w", err)
			}
			if !info.Mode().IsRegular() {
				skipped(path, "is not a plain file")
				return nil
			}
			logs = append(logs, newLogFile(path, info, true))
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return logs, nil
}

// matched puts the files that match in place of a pattern, such as *.csv, that no file
// is called: the shells of Windows leave that to the program.
func matched(args []string) []string {
	var out []string
	for _, arg := range args {
		found := []string{arg}
		if _, err := os.Lstat(arg); err != nil {
			if files, err := filepath.Glob(arg); err == nil && len(files) > 0 {
				found = files
			}
		}
		out = append(out, found...)
	}
	return out
}

func newLogFile(path string, info fs.FileInfo, walked bool) logFile {
	if !info.Mode().IsRegular() {
		return logFile{name: path, path: path, walked: walked, stream: true, size: -1}
	}
	return logFile{name: path, path: path, walked: walked, size: info.Size()}
}

func hidden(name string) bool {
	return strings.HasPrefix(name, ".") && name != "." && name != ".."
}

// sessionName is the log's base name without what says how it is written:
// monday.csv.gz becomes monday.
func sessionName(path string) string {
	name := filepath.Base(path)
	for _, compressed := range []string{".gz", ".gzip", ".zst", ".zstd"} {
		name = strings.TrimSuffix(name, compressed)
	}
	return strings.TrimSuffix(name, filepath.Ext(name))
}
