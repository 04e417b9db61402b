package translatetest

// numbers is what a machine reads and never writes.
type numbers struct {
	weights []int16 `c:"WEIGHTS"`
	Kind    uint8   // which of two sums
}

// machine has memory whose size the program that holds it sets.
type machine struct {
	numbers *numbers   `c:"const"`
	ring    []int32    `c:"RING"`
	grid    [][2]int16 `c:"RING"`
	next    uint16
	unread  int32 // no function reads it: C does without
}

func (m *machine) push(x int32) {
	m.ring[m.next] = x
	m.grid[m.next][1] = int16(x)
	m.next++
	if int32(m.next) == int32(len(m.ring)) {
		m.next = 0
	}
}

func (m *machine) weigh() int64 {
	sum := int64(0)
	at := int32(m.next)
	for i := range m.numbers.weights {
		at--
		if at < 0 {
			at += int32(len(m.ring))
		}
		switch m.numbers.Kind {
		case 0:
			sum += int64(m.ring[at])
		case 1:
			sum += int64(m.ring[at]) * int64(m.numbers.weights[i])
		}
	}
	return sum + int64(sumOf(m.numbers.weights, int32(len(m.numbers.weights)))) - int64(m.grid[0][1])
}

func sumOf(w []int16, n int32) int32 {
	sum := int32(0)
	for i := range n {
		sum += int32(w[i])
	}
	return sum
}

// Feed runs a machine over a program's input.
func (m *machine) Feed(in, out *Words) {
	for i := range in.V {
		m.push(int32(in.V[i]))
	}
	out.V[0] = m.weigh()
}
