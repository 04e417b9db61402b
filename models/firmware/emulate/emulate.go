// Package emulate compiles C for small boards and runs it in emulators: to see
// that a board computes what the host does, and what it costs there.
//
// It knows cross compilers and emulators as Debian ships them, and of boards
// only where flash and memory lie. What is run is the caller's. Instructions are
// counted where the emulator counts them, clock cycles where it knows them; each
// target says which. It is used by models/firmware and its tests, runs programs
// only when told to, and writes in the directories that it is given.
package emulate

import (
	"errors"
	"fmt"
	"os/exec"
)

// Target is one kind of board.
type Target struct {
	Name string // as users name it
	Doc  string

	Compiler string // prefix of the tools: arm-none-eabi-
	Emulator string // program that runs its code
	Install  string // how to get both on Debian

	Unit     string // what is counted: instructions or cycles
	NoFloat  bool   // too small for the float32 profile
	FlashMax int    // bytes of a usual board
	RAMMax   int

	cpu      []string // flags of compiler and linker
	support  string   // its part of board/, without extension
	ticks    float64  // of board_count, to one of Unit
	flash    uint32   // where the emulated board has it
	ram      uint32
	ramBytes uint32
	run      []string // arguments of the emulator before the program
	library  []string // linker flags for the C library with standard streams, nil where it has none
}

// Targets lists what is tried, the smallest first.
func Targets() []Target {
	const (
		avrInstall = "apt-get install gcc-avr avr-libc binutils-avr simavr"
		armInstall = "apt-get install gcc-arm-none-eabi libnewlib-arm-none-eabi qemu-system-arm"
		semi       = "enable=on,target=native"
	)
	arm := func(machine string) []string {
		return []string{"-M", machine, "-nographic", "-monitor", "none", "-serial", "null", "-semihosting-config", semi, "-icount", "shift=10", "-kernel"}
	}
	return []Target{
		{
			Name: "atmega328p", Doc: "8-bit AVR, as on small hobby boards", Compiler: "avr-", Emulator: "simavr",
			Install: avrInstall, Unit: "cycles", NoFloat: true, FlashMax: 32 << 10, RAMMax: 2 << 10,
			cpu: []string{"-mmcu=atmega328p"}, support: "avr", ticks: 1,
			run: []string{"-m", "atmega328p", "-f", "16000000"},
		},
		{
			Name: "atmega1284p", Doc: "8-bit AVR with more memory", Compiler: "avr-", Emulator: "simavr",
			Install: avrInstall, Unit: "cycles", NoFloat: true, FlashMax: 128 << 10, RAMMax: 16 << 10,
			cpu: []string{"-mmcu=atmega1284p"}, support: "avr", ticks: 1,
			run: []string{"-m", "atmega1284p", "-f", "16000000"},
		},
		{
			Name: "cortex-m0", Doc: "32-bit, no division, no floating point", Compiler: "arm-none-eabi-", Emulator: "qemu-system-arm",
			Install: armInstall, Unit: "instructions", FlashMax: 256 << 10, RAMMax: 16 << 10,
			cpu: []string{"-mcpu=cortex-m0", "-mthumb"}, support: "cortexm", ticks: 16.384,
			ram: 0x20000000, ramBytes: 16 << 10, run: arm("microbit"), library: []string{"--specs=rdimon.specs", "-DBOARD_LIBRARY"},
		},
		{
			Name: "cortex-m3", Doc: "32-bit, no floating point", Compiler: "arm-none-eabi-", Emulator: "qemu-system-arm",
			Install: armInstall, Unit: "instructions", FlashMax: 256 << 10, RAMMax: 64 << 10,
			cpu: []string{"-mcpu=cortex-m3", "-mthumb"}, support: "cortexm", ticks: 25.6,
			ram: 0x20000000, ramBytes: 1 << 20, run: arm("mps2-an385"), library: []string{"--specs=rdimon.specs", "-DBOARD_LIBRARY"},
		},
		{
			Name: "cortex-m4f", Doc: "32-bit with floating point", Compiler: "arm-none-eabi-", Emulator: "qemu-system-arm",
			Install: armInstall, Unit: "instructions", FlashMax: 512 << 10, RAMMax: 96 << 10,
			cpu: []string{"-mcpu=cortex-m4", "-mthumb", "-mfloat-abi=hard", "-mfpu=fpv4-sp-d16"}, support: "cortexm", ticks: 25.6,
			ram: 0x20000000, ramBytes: 1 << 20, run: arm("mps2-an386"), library: []string{"--specs=rdimon.specs", "-DBOARD_LIBRARY"},
		},
		{
			Name: "rv32imc", Doc: "32-bit RISC-V, no floating point", Compiler: "riscv64-unknown-elf-", Emulator: "qemu-system-riscv32",
			Install: "apt-get install gcc-riscv64-unknown-elf picolibc-riscv64-unknown-elf qemu-system-misc", Unit: "instructions",
			FlashMax: 256 << 10, RAMMax: 64 << 10,
			cpu: []string{"-march=rv32imc", "-mabi=ilp32", "--specs=picolibc.specs"}, support: "riscv", ticks: 1,
			flash: 0x80000000, ram: 0x80200000, ramBytes: 1 << 20,
			run: []string{"-M", "virt", "-bios", "none", "-nographic", "-monitor", "none", "-serial", "null", "-semihosting-config", semi, "-icount", "shift=0", "-kernel"},
			library: []string{"--crt0=hosted", "-DBOARD_LIBRARY", "-Wl,--defsym=__flash=0x80000000,--defsym=__flash_size=0x200000",
				"-Wl,--defsym=__ram=0x80200000,--defsym=__ram_size=0x100000"},
		},
	}
}

// Find returns a target by name. Its error lists the names.
func Find(name string) (Target, error) {
	var names string
	for _, t := range Targets() {
		if t.Name == name {
			return t, nil
		}
		names += " " + t.Name
	}
	return Target{}, fmt.Errorf("no target %q: there are%s", name, names)
}

// ErrMissing says that a compiler or emulator is not installed.
var ErrMissing = errors.New("not installed")

// Check errors with ErrMissing where the target's tools are not installed, and
// says how to install them.
func (t Target) Check() error {
	for _, tool := range []string{t.Compiler + "gcc", t.Compiler + "size", t.Emulator} {
		if _, err := exec.LookPath(tool); err != nil {
			return fmt.Errorf("%s for %s: %w: %s", tool, t.Name, ErrMissing, t.Install)
		}
	}
	return nil
}

// HasLibrary reports whether programs may use the standard streams.
func (t Target) HasLibrary() bool { return t.library != nil }
