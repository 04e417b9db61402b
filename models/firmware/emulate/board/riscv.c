/* Start and services of a RISC-V in an emulator: semihosting to write and to
 * end, the count of instructions retired. */
#include "board.h"

extern unsigned char end;

enum { semi_open = 0x01, semi_write = 0x05, semi_exit = 0x18, semi_exited = 0x20026 };

static uintptr_t semihost(uintptr_t operation, uintptr_t argument)
{
	register uintptr_t a0 __asm__("a0") = operation;
	register uintptr_t a1 __asm__("a1") = argument;
	__asm__ volatile(".option push\n\t.option norvc\n\t.balign 16\n\t"
			 "slli x0, x0, 0x1f\n\tebreak\n\tsrai x0, x0, 7\n\t.option pop"
			 : "+r"(a0) : "r"(a1) : "memory");
	return a0;
}

void board_put(char c)
{
	static uintptr_t handle;
	if (handle == 0) {
		uintptr_t open[3] = {(uintptr_t)":tt", 4, 3}; /* standard output */
		handle = semihost(semi_open, (uintptr_t)open);
	}
	uintptr_t write[3] = {handle, (uintptr_t)&c, 1};
	semihost(semi_write, (uintptr_t)write);
}

uint32_t board_count(void)
{
	uint32_t n;
	__asm__ volatile(".option push\n\t.option arch, +zicsr\n\tcsrr %0, minstret\n\t.option pop" : "=r"(n));
	return n & 0xffffffu;
}

unsigned char *board_memory_end(void)
{
	return &end;
}

#ifdef BOARD_LIBRARY
/* The C library starts by itself; these are its streams. Its own ones never see
 * the end of the input. */
#include <stdio.h>

enum { semi_read = 0x06 };

static int get(FILE *stream)
{
	static uintptr_t handle;
	unsigned char c;
	(void)stream;
	if (handle == 0) {
		uintptr_t open[3] = {(uintptr_t)":tt", 0, 3};
		handle = semihost(semi_open, (uintptr_t)open);
	}
	uintptr_t read[3] = {handle, (uintptr_t)&c, 1};
	return semihost(semi_read, (uintptr_t)read) == 0 ? c : EOF; /* it tells what is left to read */
}

static int put(char c, FILE *stream)
{
	(void)stream;
	board_put(c);
	return (unsigned char)c;
}

static FILE console = FDEV_SETUP_STREAM(put, get, NULL, _FDEV_SETUP_RW);
FILE *const stdin = &console;
FILE *const stdout = &console;
FILE *const stderr = &console;

void _exit(int status)
{
	uintptr_t how[2] = {semi_exited, (uintptr_t)status};
	semihost(0x20, (uintptr_t)how);
	for (;;) {
	}
}
#else
__attribute__((naked, section(".vectors"), used)) void board_reset(void)
{
	__asm__ volatile(".option push\n\t.option norelax\n\tla gp, __global_pointer$\n\t.option pop\n\t"
			 "la sp, stack_top\n\tjal board_main");
}

__attribute__((used)) void board_main(void)
{
	main();
	uintptr_t how[2] = {semi_exited, 0};
	semihost(0x20, (uintptr_t)how);
	for (;;) {
	}
}
#endif
