package emulate

import (
	"cmp"
	"context"
	"embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

//go:embed board
var boardFiles embed.FS

// Strict are the flags that code for boards compiles under without a word.
var strict = []string{"-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror"}

// Program is compiled for a target.
type Program struct {
	Target Target
	Path   string // of the ELF file
}

// Build compiles C files of a directory for the target and links them to a
// program that uses board.h alone, or, with library, standard input and output.
// Objects and program are written to out, which may be the same directory. Its
// errors carry the compiler's words, or say how much too large the program is.
func (t Target) Build(ctx context.Context, dir, out string, files []string, library bool, flags ...string) (*Program, error) {
	if library && !t.HasLibrary() {
		return nil, fmt.Errorf("%s has no standard streams", t.Name)
	}
	support := filepath.Join(out, "board")
	if err := writeSupport(support); err != nil {
		return nil, err
	}
	var objects []string
	for _, f := range files {
		o, err := t.compile(ctx, filepath.Join(dir, f), out, append([]string{"-I", support, "-I", dir}, flags...))
		if err != nil {
			return nil, err
		}
		objects = append(objects, o)
	}
	p := &Program{Target: t, Path: filepath.Join(out, "program-"+t.Name+".elf")}
	args := append([]string{}, t.cpu...)
	args = append(args, "-std=gnu99", "-Os", "-I", support, "-Wl,--gc-sections", "-o", p.Path)
	args = append(args, objects...)
	switch {
	case library:
		args = append(args, t.library...)
		args = append(args, filepath.Join(support, t.support+".c"))
		if t.support == "cortexm" {
			args = append(args, "-T", filepath.Join(support, t.support+".ld"))
		}
	default:
		args = append(args, filepath.Join(support, t.support+".c"))
		if t.ramBytes != 0 {
			args = append(args, "-nostartfiles", "-T", filepath.Join(support, t.support+".ld"))
		}
	}
	if t.ramBytes != 0 {
		args = append(args, fmt.Sprintf("-Wl,--defsym=BOARD_FLASH=%#x,--defsym=BOARD_RAM=%#x,--defsym=BOARD_RAM_SIZE=%#x", t.flash, t.ram, t.ramBytes))
	}
	args = append(args, "-lm")
	said, err := command(ctx, out, t.Compiler+"gcc", args...)
	if err != nil {
		return nil, cmp.Or(t.tooLarge(string(said)), err)
	}
	return p, nil
}

// compile makes one object, in sections that the linker can drop, and beside it
// the list of its functions' stacks.
func (t Target) compile(ctx context.Context, file, out string, flags []string) (string, error) {
	object := filepath.Join(out, t.Name+"-"+strings.TrimSuffix(filepath.Base(file), ".c")+".o")
	args := append([]string{}, t.cpu...)
	args = append(args, strict...)
	args = append(args, "-Os", "-ffunction-sections", "-fdata-sections", "-fstack-usage")
	args = append(args, flags...)
	args = append(args, "-c", file, "-o", object)
	_, err := command(ctx, out, t.Compiler+"gcc", args...)
	return object, err
}

func writeSupport(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	entries, err := boardFiles.ReadDir("board")
	if err != nil {
		return err
	}
	for _, e := range entries {
		text, err := boardFiles.ReadFile("board/" + e.Name())
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, e.Name()), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// command runs a tool and returns what it wrote; its error holds the tool's
// words.
func command(ctx context.Context, dir, name string, args ...string) ([]byte, error) {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	if err != nil {
		return out, fmt.Errorf("%s: %w\n%s", name, err, out)
	}
	return out, nil
}
