package emulate

import (
	"context"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
)

// Size is what a program takes, in bytes.
type Size struct {
	Flash int // code, constants, and the first values of variables
	RAM   int // variables
}

// Size measures the linked program.
func (p *Program) Size(ctx context.Context) (Size, error) {
	out, err := command(ctx, filepath.Dir(p.Path), p.Target.Compiler+"size", "-A", p.Path)
	if err != nil {
		return Size{}, err
	}
	var s Size
	for _, line := range strings.Split(string(out), "\n") {
		f := strings.Fields(line)
		if len(f) != 3 {
			continue
		}
		n, err := strconv.Atoi(f[1])
		if err != nil {
			continue // the headings
		}
		switch name := f[0]; {
		case strings.HasPrefix(name, ".text"), strings.HasPrefix(name, ".rodata"), strings.HasPrefix(name, ".ARM.ex"):
			s.Flash += n
		case strings.HasPrefix(name, ".data"), strings.HasPrefix(name, ".sdata"), strings.HasPrefix(name, ".init_array"), strings.HasPrefix(name, ".fini_array"):
			s.Flash += n
			s.RAM += n
		case strings.HasPrefix(name, ".bss"), strings.HasPrefix(name, ".sbss"), strings.HasPrefix(name, ".noinit"):
			s.RAM += n
		}
	}
	return s, nil
}

// SymbolSize compiles one file and returns the size of a variable in it.
func (t Target) SymbolSize(ctx context.Context, dir, file, symbol string) (int, error) {
	object, err := t.compile(ctx, filepath.Join(dir, file), dir, []string{"-I", dir})
	if err != nil {
		return 0, err
	}
	out, err := command(ctx, dir, t.Compiler+"nm", "-S", "-t", "d", object)
	if err != nil {
		return 0, err
	}
	for _, line := range strings.Split(string(out), "\n") {
		if f := strings.Fields(line); len(f) == 4 && f[3] == symbol {
			return strconv.Atoi(strings.TrimLeft(f[1], "0"))
		}
	}
	return 0, fmt.Errorf("%s has no %s", file, symbol)
}

// Work turns counts of board_count into the target's unit.
func (t Target) Work(count float64) float64 { return count / t.ticks }
