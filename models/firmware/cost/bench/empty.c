/* The program without the detector. */
#include "board.h"

volatile int told; /* keeps the compiler from leaving the work out */

int main(void)
{
	for (;;) {
		told = (int)board_count();
	}
}
