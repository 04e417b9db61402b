/* Services of an AVR in a simulator: the serial port to write, timer 1 to count
 * clock cycles. avr-libc starts it; the simulator ends when it sleeps for good. */
#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

extern unsigned char __heap_start;

static volatile uint16_t rounds;

ISR(TIMER1_OVF_vect)
{
	rounds++;
}

/* Before main. */
__attribute__((constructor)) static void begin(void)
{
	UBRR0 = 0;
	UCSR0B = 1 << TXEN0;
	TCCR1B = 1;
	TIMSK1 = 1;
	sei();
}

/* Behind main. */
__attribute__((destructor)) static void finish(void)
{
	cli();
	sleep_enable();
	sleep_cpu();
}

void board_put(char c)
{
	while (!(UCSR0A & (1 << UDRE0))) {
	}
	UDR0 = (uint8_t)c;
}

uint32_t board_count(void)
{
	uint8_t status = SREG;
	cli();
	uint16_t low = TCNT1;
	uint16_t high = rounds;
	if ((TIFR1 & 1) && low < 0x8000u) {
		high++; /* it wrapped just now */
	}
	SREG = status;
	return ((uint32_t)high << 16 | low) & 0xffffffu;
}

unsigned char *board_memory_end(void)
{
	return &__heap_start;
}
