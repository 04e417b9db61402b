package main

import (
	"fmt"
	"os"
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
)

// namedFiles lists the words of a command line that are files, once for each
// time that they stand there.
func namedFiles(cmd *cobra.Command, args []string) []os.FileInfo {
	words := slices.Clone(args)
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if list, ok := f.Value.(pflag.SliceValue); ok {
			words = append(words, list.GetSlice()...)
			return
		}
		words = append(words, f.Value.String())
	})
	var files []os.FileInfo
	for _, word := range words {
		if info, err := os.Stat(word); err == nil && info.Mode().IsRegular() {
			files = append(files, info)
		}
	}
	return files
}

// guard refuses an output that would take the place of something that is read: a
// file that the command line names a second time, a file of the corpus, or a
// rig file.
func (a *app) guard(path string) error {
	if corpus.Owns(path) {
		return fmt.Errorf("%s: lies among the files of a corpus: name another place", path)
	}
	info, err := os.Stat(path)
	if err != nil || !info.Mode().IsRegular() {
		return nil // nothing is there, or what nothing takes the place of
	}
	named := 0
	for _, file := range a.named {
		if os.SameFile(file, info) {
			named++
		}
	}
	if named > 1 {
		return fmt.Errorf("%s: is named twice on the command line, and would be replaced: name another file for the output", path)
	}
	if _, err := rig.Load(path); err == nil {
		return fmt.Errorf("%s: is a rig file, and would be replaced: name another file for the output, or move that one away", path)
	}
	return nil
}
