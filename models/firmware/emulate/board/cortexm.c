/* Start and services of a Cortex-M in an emulator: semihosting to write and to
 * end, the system timer to count. */
#include "board.h"

extern uint32_t stack_top;
extern unsigned char end;

enum { semi_open = 0x01, semi_write = 0x05, semi_exit = 0x18, semi_exited = 0x20026 };

static uintptr_t semihost(uintptr_t operation, uintptr_t argument)
{
	register uintptr_t r0 __asm__("r0") = operation;
	register uintptr_t r1 __asm__("r1") = argument;
	__asm__ volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
	return r0;
}

#define TIMER ((volatile uint32_t *)0xe000e010u)
#define COPROCESSORS (*(volatile uint32_t *)0xe000ed88u)

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
	return 0u - TIMER[2]; /* counts down */
}

unsigned char *board_memory_end(void)
{
	return &end;
}

#ifdef BOARD_LIBRARY
/* The C library's own start: it opens the standard streams and calls main. */
void _start(void);
#endif

void board_reset(void)
{
#ifdef __ARM_FP
	COPROCESSORS |= 0xfu << 20;
	__asm__ volatile("dsb\n\tisb");
#endif
	TIMER[1] = 0xffffffu;
	TIMER[2] = 0;
	TIMER[0] = 5; /* on, at the processor's clock */
#ifdef BOARD_LIBRARY
	_start();
#else
	main();
#endif
	semihost(semi_exit, semi_exited);
	for (;;) {
	}
}

__attribute__((section(".vectors"), used)) static void *const vectors[] = {&stack_top, (void *)board_reset};
