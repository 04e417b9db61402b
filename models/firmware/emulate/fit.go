package emulate

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// avrRAM is where linkers for AVR have the memory of the targets.
const avrRAM = 0x800100

// What linkers write of a part of the board that is too small: by how much, or, of
// AVR, the address that is reached.
var (
	overflowed = regexp.MustCompile("region `(text|data)' overflowed by ([0-9]+) bytes")
	beyond     = regexp.MustCompile("address 0x([0-9a-f]+) of .* is not within region `data'")
)

// tooLarge tells by what the linker wrote how much too large a program is for the
// target; nil where that is not what it wrote of.
func (t Target) tooLarge(linker string) error {
	over := map[string]int{} // bytes by region
	for _, m := range beyond.FindAllStringSubmatch(linker, -1) {
		if end, err := strconv.ParseInt(m[1], 16, 64); err == nil {
			over["data"] = max(over["data"], int(end)-avrRAM-t.RAMMax)
		}
	}
	for _, m := range overflowed.FindAllStringSubmatch(linker, -1) {
		if n, err := strconv.Atoi(m[2]); err == nil {
			over[m[1]] = n
		}
	}
	var parts []string
	if n := over["text"]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d bytes more than its %d of flash", n, t.FlashMax))
	}
	if n := over["data"]; n > 0 {
		parts = append(parts, fmt.Sprintf("%d bytes more than its %d of memory", n, t.RAMMax))
	}
	if parts == nil {
		return nil
	}
	return fmt.Errorf("the program does not fit: it takes %s", strings.Join(parts, " and "))
}
