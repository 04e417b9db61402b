package emulate

import "testing"

func TestTooLarge(t *testing.T) {
	target, err := Find("atmega328p")
	if err != nil {
		t.Fatal(err)
	}
	const ld = "/usr/lib/avr/bin/ld: "
	for _, c := range []struct{ name, linker, want string }{
		{"another error", ld + "main.o: undefined reference to `board_put'\n", ""},
		{"flash", ld + "p.elf section `.text' will not fit in region `text'\n" + ld + "region `text' overflowed by 6596 bytes\n",
			"the program does not fit: it takes 6596 bytes more than its 32768 of flash"},
		{"memory, by its address", ld + "address 0x800cb8 of p.elf section `.bss' is not within region `data'\n",
			"the program does not fit: it takes 952 bytes more than its 2048 of memory"},
		{"the farthest address", ld + "address 0x800a00 of p.elf section `.data' is not within region `data'\n" + ld + "address 0x800cb8 of p.elf section `.bss' is not within region `data'\n",
			"the program does not fit: it takes 952 bytes more than its 2048 of memory"},
		{"both", ld + "region `text' overflowed by 2 bytes\n" + ld + "region `data' overflowed by 3 bytes\n",
			"the program does not fit: it takes 2 bytes more than its 32768 of flash and 3 bytes more than its 2048 of memory"},
	} {
		got := ""
		if err := target.tooLarge(c.linker); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
