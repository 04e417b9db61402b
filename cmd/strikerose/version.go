package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/models"
)

// built is what a bug report should tell of the program.
type built struct {
	Version  string `json:"version"`           // version of the program
	Commit   string `json:"commit,omitempty"`  // commit it was built from; absent where not recorded
	Changed  bool   `json:"changed,omitempty"` // whether the sources differ from that commit; absent where they do not
	When     string `json:"when,omitempty"`    // time of the commit, RFC 3339; absent where not recorded
	Go       string `json:"go"`                // version of Go that built it
	Platform string `json:"platform"`          // operating system and processor, such as linux/amd64
	Corpus   int    `json:"corpus_format"`     // version of the corpus format that it writes, at least 1
	Detector int    `json:"detector_format"`   // version of the detector file that it writes, at least 1
	Features int    `json:"features"`          // version of the features' definitions, at least 1
	Chain    int    `json:"chain"`             // version of the chain from samples to windows, at least 1
}

func newVersion(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Say which version this is, and of which formats",
		Long: `Say which version this is, how it was built, and which versions of the corpus'
and the detector's formats it writes. Tell it all in a report of a fault.`,
		Example: "strikerose version",
		Args:    takes(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			b := thisBuild()
			if a.json {
				return printJSON(a.out, b)
			}
			for _, line := range b.lines() {
				printKeyed(a.out, line[0], line[1])
			}
			return nil
		},
	}
}

func thisBuild() built {
	b := built{
		Version: version(), Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH,
		Corpus: corpus.FormatVersion, Detector: models.FileVersion, Features: features.Version, Chain: chain.Version,
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch s.Key {
			case "vcs.revision":
				b.Commit = s.Value
			case "vcs.time":
				b.When = s.Value
			case "vcs.modified":
				b.Changed = s.Value == "true"
			}
		}
	}
	return b
}

// name is the program's name and version with the commit that it was built from,
// as far as known.
func (b built) name() string {
	name := "strikerose " + b.Version
	if b.Commit != "" {
		name += ", commit " + b.Commit
	}
	if b.Changed {
		name += ", changed"
	}
	return name
}

func (b built) lines() [][2]string {
	commit := b.Commit
	switch {
	case commit == "":
		commit = "not recorded"
	case b.Changed:
		commit += " of " + b.When + ", changed since"
	default:
		commit += " of " + b.When
	}
	return [][2]string{
		{"strikerose", b.Version},
		{"commit", commit},
		{"built", "with " + b.Go + " for " + b.Platform},
		{"formats", fmt.Sprintf("corpus %d, detector %d", b.Corpus, b.Detector)},
		{"definitions", fmt.Sprintf("features %d, chain %d", b.Features, b.Chain)},
	}
}
