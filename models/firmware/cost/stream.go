package cost

import (
	"embed"
	"fmt"
	"strings"

	"strikerose/features/chain/board"
)

//go:embed bench
var benchFiles embed.FS

// streamText writes samples as a table in C that stays in flash.
func streamText(stream []board.Sample) string {
	var b strings.Builder
	fmt.Fprintf(&b, `#include "strikerose.h"
#ifdef __AVR__
#include <avr/pgmspace.h>
#define STREAM_MEMORY PROGMEM
#else
#include <string.h>
#define STREAM_MEMORY
#define memcpy_P memcpy
#endif

#define STREAM_SAMPLES %du

static const strikerose_sample_t stream[STREAM_SAMPLES] STREAM_MEMORY = {
`, len(stream))
	for _, s := range stream {
		fmt.Fprintf(&b, "\t{%du, {%d, %d, %d}, {%d, %d, %d}},\n", s.TUs, s.A[0], s.A[1], s.A[2], s.G[0], s.G[1], s.G[2])
	}
	b.WriteString(`};

static void stream_read(uint32_t i, strikerose_sample_t *s)
{
	memcpy_P(s, &stream[i], sizeof *s);
}
`)
	return b.String()
}
