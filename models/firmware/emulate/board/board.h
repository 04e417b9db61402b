/* What a trial program needs of a board: somewhere to write, and a count of
 * the work done. */
#ifndef BOARD_H
#define BOARD_H

#include <stdint.h>

/* Writes one character. */
void board_put(char c);

/* Counts instructions or clock cycles, in units of its own; wraps at 24 bits. */
uint32_t board_count(void);

/* First byte behind all variables: the stack grows down toward it. */
unsigned char *board_memory_end(void);

/* Written by the trial program. */
int main(void);

#endif
