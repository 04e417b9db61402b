package emulate

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// Calls holds the stack of each function of a file, and which it calls.
type Calls struct {
	Frame map[string]int      // bytes, by function
	Calls map[string][]string // of the same file and of others
}

// Stack compiles one file and reads what each of its functions takes of the stack
// (the compiler's -fstack-usage) and calls (the object's relocations).
func (t Target) Stack(ctx context.Context, dir, file string) (*Calls, error) {
	object, err := t.compile(ctx, filepath.Join(dir, file), dir, []string{"-I", dir})
	if err != nil {
		return nil, err
	}
	usage, err := os.ReadFile(strings.TrimSuffix(object, ".o") + ".su")
	if err != nil {
		return nil, err
	}
	c := &Calls{Frame: map[string]int{}, Calls: map[string][]string{}}
	for _, line := range strings.Split(strings.TrimSpace(string(usage)), "\n") {
		f := strings.Split(line, "\t")
		if len(f) != 3 {
			return nil, fmt.Errorf("%s: a line of stack usage that is not understood: %q", file, line)
		}
		n, err := strconv.Atoi(f[1])
		if err != nil {
			return nil, fmt.Errorf("%s: stack of %s: %w", file, f[0], err)
		}
		if !strings.HasPrefix(f[2], "static") && !strings.Contains(f[2], "bounded") {
			return nil, fmt.Errorf("%s: the stack of %s has no bound", file, f[0])
		}
		c.Frame[f[0][strings.LastIndex(f[0], ":")+1:]] = n
	}
	out, err := command(ctx, dir, t.Compiler+"objdump", "-d", "-r", object)
	if err != nil {
		return nil, err
	}
	c.readCalls(string(out))
	return c, nil
}

var (
	functionLine   = regexp.MustCompile(`^[0-9a-f]+ <([A-Za-z_][\w.]*)>:$`)
	relocationLine = regexp.MustCompile(`R_\w*(?:CALL|JUMP|PCREL|JAL|13)\w*\s+(?:\.text\.)?([A-Za-z_]\w*)`)
)

// readCalls finds calls in a listing of the object.
func (c *Calls) readCalls(listing string) {
	at := ""
	for _, line := range strings.Split(listing, "\n") {
		if m := functionLine.FindStringSubmatch(line); m != nil {
			if _, ok := c.Frame[m[1]]; ok || at == "" {
				at = m[1] // others are labels inside a function
			}
			continue
		}
		if m := relocationLine.FindStringSubmatch(line); m != nil && at != "" && m[1] != at {
			c.Calls[at] = append(c.Calls[at], m[1])
		}
	}
}

// Depth is the most stack that a call of the function can take along any path.
// Functions of other files count as nothing: those of the compiler's library are
// leaves of a few bytes.
func (c *Calls) Depth(function string) int { return c.depth(function, map[string]bool{}) }

func (c *Calls) depth(function string, above map[string]bool) int {
	frame, ok := c.Frame[function]
	if !ok || above[function] {
		return 0
	}
	above[function] = true
	deepest := 0
	for _, g := range c.Calls[function] {
		deepest = max(deepest, c.depth(g, above))
	}
	delete(above, function)
	return frame + deepest
}
