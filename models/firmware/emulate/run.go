package emulate

import (
	"bytes"
	"context"
	"fmt"
	"os/exec"
	"strings"
)

// Run runs the program to its end and returns what it wrote. A program of the C
// library reads input. It errors when ctx is done first, which is how a program
// that hangs ends.
func (p *Program) Run(ctx context.Context, input []byte) ([]byte, error) {
	cmd := exec.CommandContext(ctx, p.Target.Emulator, append(append([]string{}, p.Target.run...), p.Path)...)
	cmd.Stdin = bytes.NewReader(input)
	var out, words bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &words
	if p.Target.Emulator == "simavr" {
		cmd.Stdout, cmd.Stderr = &words, &out
	}
	if err := cmd.Run(); err != nil {
		if ctx.Err() != nil {
			err = ctx.Err()
		}
		return out.Bytes(), fmt.Errorf("%s on %s: %w\n%s", p.Target.Emulator, p.Target.Name, err, words.Bytes())
	}
	if p.Target.Emulator == "simavr" {
		return serial(out.Bytes()), nil
	}
	return out.Bytes(), nil
}

// serial takes the program's own lines from what simavr writes: it colours
// each and shows a dot for every character that is none to print, the line's end
// among them.
func serial(text []byte) []byte {
	var out bytes.Buffer
	for _, line := range strings.Split(string(text), "\n") {
		line = strings.TrimPrefix(line, "\x1b[0m")
		if rest, ok := strings.CutPrefix(line, "\x1b[32m"); ok {
			out.WriteString(strings.TrimSuffix(rest, ".") + "\n")
		}
	}
	return out.Bytes()
}
