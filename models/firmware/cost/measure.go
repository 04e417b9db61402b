package cost

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"strikerose/models/firmware/emulate"
)

// sizes compares a program with the detector with one without.
func (m *measuring) sizes(ctx context.Context, c *Cost) error {
	empty, err := m.build(ctx, "empty.c")
	if err != nil {
		return err
	}
	without, err := empty.Size(ctx)
	if err != nil {
		return err
	}
	use, err := m.build(ctx, "use.c", "strikerose.c")
	if err != nil {
		return err
	}
	with, err := use.Size(ctx)
	if err != nil {
		return err
	}
	c.FlashBytes = with.Flash - without.Flash
	c.RAMBytes = with.RAM - without.RAM
	if c.FlashBytes > m.target.FlashMax || c.RAMBytes > m.target.RAMMax {
		return noRoom(m.target, c)
	}
	return nil
}

func noRoom(t emulate.Target, c *Cost) error {
	return fmt.Errorf("it takes %d bytes of flash and %d of memory, of %d and %d: take a smaller detector, a lower rate_hz, or a larger board",
		c.FlashBytes, c.MemoryBytes(), t.FlashMax, t.RAMMax)
}

// ringSize is the length of the sample buffer in the header.
var ringSize = regexp.MustCompile(`(?m)^(#define STRIKEROSE_RING) (\d+)`)

// ring finds what one sample takes by a header whose ring is longer.
func (m *measuring) ring(ctx context.Context, c *Cost) error {
	const longer = 8 // keeps every alignment
	const header = "strikerose.h"
	text, err := os.ReadFile(filepath.Join(m.dir, header))
	if err != nil {
		return err
	}
	found := ringSize.FindSubmatch(text)
	if found == nil {
		return errors.New("strikerose.h defines no STRIKEROSE_RING")
	}
	n, err := strconv.Atoi(string(found[2]))
	if err != nil {
		return err
	}
	const probe = "#include \"strikerose.h\"\nextern unsigned char probe[sizeof(strikerose_t)];\nunsigned char probe[sizeof(strikerose_t)];\n"
	size := func(header []byte) (int, error) {
		dir, err := os.MkdirTemp(m.dir, "ring-")
		if err != nil {
			return 0, err
		}
		for name, data := range map[string][]byte{"strikerose.h": header, "probe.c": []byte(probe)} {
			if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
				return 0, err
			}
		}
		return m.target.SymbolSize(ctx, dir, "probe.c", "probe")
	}
	short, err := size(text)
	if err != nil {
		return err
	}
	long, err := size(ringSize.ReplaceAll(text, fmt.Appendf(nil, "$1 %d", n+longer)))
	if err != nil {
		return err
	}
	c.RingBytes = (long - short) / longer * n
	return nil
}

// bound finds the deepest path of calls.
func (m *measuring) bound(ctx context.Context, c *Cost) error {
	calls, err := m.target.Stack(ctx, m.dir, "strikerose.c")
	if err != nil {
		return err
	}
	for _, f := range []string{"strikerose_init", "strikerose_push", "strikerose_next", "strikerose_flush"} {
		c.BoundBytes = max(c.BoundBytes, calls.Depth(f))
	}
	if c.MemoryBytes() > m.target.RAMMax {
		return noRoom(m.target, c)
	}
	return nil
}

// run runs the stream and reads what it printed.
func (m *measuring) run(ctx context.Context, c *Cost) error {
	p, err := m.build(ctx, "bench.c", "strikerose.c")
	if err != nil {
		return err
	}
	out, err := p.Run(ctx, nil)
	if err != nil {
		return err
	}
	events, counts, found := strings.Cut(string(out), "cost ")
	if !found {
		return fmt.Errorf("the trial ended early, for want of memory or by a damaged table: %q", out)
	}
	c.Events = events
	var samples, high, low, plain, event, stack, empty float64
	if n, err := fmt.Sscan(counts, &samples, &high, &low, &plain, &event, &stack, &empty); err != nil {
		return fmt.Errorf("number %d of %q: %w", n+1, counts, err)
	}
	work := func(count float64) float64 { return math.Max(m.target.Work(count-empty), 0) }
	if samples > 0 {
		c.PerSample = m.target.Work((high*(1<<32)+low)/samples - empty)
	}
	c.WorstSample, c.WorstAnswer, c.StackBytes = int(math.Round(work(plain))), int(math.Round(work(event))), int(stack)
	return nil
}
