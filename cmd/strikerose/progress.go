package main

import (
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"
)

// counter is what a long step is given to count its work on.
type counter interface {
	Add(n int64)
	Done()
}

// silence counts nothing.
type silence struct{}

func (silence) Add(int64) {}
func (silence) Done()     {}

// bar draws a progress bar.
type bar struct{ b *progressbar.ProgressBar }

func (b bar) Add(n int64) { _ = b.b.Add64(n) }
func (b bar) Done()       { _ = b.b.Clear() }

// progress returns a counter of a step. It draws only on a terminal and not
// with --quiet. Total is below 0 where it is not known; unit "bytes" shows
// sizes.
func (a *app) progress(what string, total int64, bytes bool) counter {
	if !a.terminal || a.quiet {
		return silence{}
	}
	return bar{progressbar.NewOptions64(total,
		progressbar.OptionSetWriter(bare(a.err)),
		progressbar.OptionSetDescription(short(string(printable([]byte(what))))),
		progressbar.OptionShowBytes(bytes),
		progressbar.OptionShowCount(),
		progressbar.OptionSetWidth(24),
		progressbar.OptionThrottle(100*time.Millisecond),
		progressbar.OptionClearOnFinish(),
	)}
}

// short cuts the start off a long path, "reading …/logs/monday.csv", so that words
// and numbers together fit a line of 80 columns.
func short(what string) string {
	const most = 32
	verb, path, _ := strings.Cut(what, " ")
	name := []rune(path)
	if over := len([]rune(what)) - most; over > 0 && over+1 < len(name) {
		return verb + " …" + string(name[over+1:])
	}
	return what
}
