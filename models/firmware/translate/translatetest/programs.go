package translatetest

import "strikerose/features/chain/fixed"

// Wrap32 wraps in 32 bits, unsigned and through conversions.
func Wrap32(in, out *Words) {
	a := uint32(in.V[0])
	b := uint32(in.V[1])
	out.V[0] = int64(a + b)
	out.V[1] = int64(a - b)
	out.V[2] = int64(a * b)
	out.V[3] = int64(int32(a - b))
	out.V[4] = int64(-a)
	a += b * 3
	a -= 7
	a *= b
	a++
	out.V[5] = int64(a)
	out.V[6] = int64(int32(uint32(in.V[2])-uint32(in.V[3])) >> 3)
}

// Wrap64 wraps in 64 bits.
func Wrap64(in, out *Words) {
	a := uint64(in.V[0])
	b := uint64(in.V[1])
	out.V[0] = int64(a + b)
	out.V[1] = int64(a - b)
	out.V[2] = int64(a * b)
	out.V[3] = int64(-a)
	out.V[4] = int64(a*6364136223846793005 + 1442695040888963407)
}

// Narrow computes with what is stored in 8 and 16 bits.
func Narrow(in, out *Words) {
	a := uint8(in.V[0])
	b := uint8(in.V[1])
	c := uint16(in.V[2])
	d := uint16(in.V[3])
	e := int8(in.V[4])
	f := int16(in.V[5])
	out.V[0] = int64(a + b)
	out.V[1] = int64(a - b)
	out.V[2] = int64(c + d)
	out.V[3] = int64(c - d)
	a |= b
	a &^= 0x11
	a++
	c ^= d
	c -= 9
	c += uint16(a)
	d--
	out.V[4] = int64(a)
	out.V[5] = int64(c) + int64(d)*2
	out.V[6] = int64(int32(e)*int32(f)) + int64(a>>2) + int64(c>>5)
	if a > b || e < 0 && f < -5 || c == d {
		out.V[7] = int64(e) - int64(f)
	}
}

// Bits combines bits.
func Bits(in, out *Words) {
	a := uint32(in.V[0])
	b := uint32(in.V[1])
	c := in.V[2]
	d := in.V[3]
	out.V[0] = int64(a & b)
	out.V[1] = int64(a | b ^ 0xf0f0f0f0)
	out.V[2] = int64(a &^ b)
	out.V[3] = int64(^a)
	out.V[4] = c&d ^ ^d
	out.V[5] = c | d&0xffff
	out.V[6] = c &^ (d | 1)
	a &= b
	a |= 0x80000000
	a ^= 3
	a &^= 2
	wide := uint64(c) &^ 5
	wide &^= uint64(late)
	out.V[7] = int64(a) + int64(wide&^0x8000)
}

// Shifts shifts by constants and by masked counts.
func Shifts(in, out *Words) {
	n := uint32(in.V[1])
	x := int32(in.V[0])
	u := uint32(in.V[0])
	out.V[0] = int64(x >> 5)
	out.V[1] = int64(x >> (n & 31))
	out.V[2] = int64(u << (n & 31))
	out.V[3] = in.V[2] >> (n & 63)
	out.V[4] = int64(uint64(in.V[2]) << (n & 63))
	out.V[5] = int64(uint32(1)<<(n&31) | u>>31)
	out.V[6] = int64(uint64(1) << min(n, 63))
	sum := uint32(0)
	for i := range int32(32) {
		sum += u >> i << 1
	}
	u <<= 3
	u >>= n & 7
	out.V[7] = int64(sum ^ u)
}

// Divide divides, toward 0.
func Divide(in, out *Words) {
	a := in.V[0]
	b := in.V[1]
	u := uint32(in.V[2])
	v := uint32(in.V[3])
	out.V[0] = a / 1000
	out.V[1] = a % 1000
	out.V[2] = a / -7
	if b > 0 {
		out.V[3] = a / b
		out.V[4] = a % b
	}
	if v == 0 {
		v = 1
	}
	out.V[5] = int64(u/v) + int64(u%v)
	out.V[6] = a / max(b, 1)
	d := int32(in.V[4])
	if d < 1 {
		return
	}
	out.V[7] = int64(int32(in.V[5])/d) + a/(3*int64(d))
}

// Compare compares, signed and unsigned.
func Compare(in, out *Words) {
	a := int32(in.V[0])
	b := int32(in.V[1])
	bits := int64(0)
	if a < b {
		bits |= 1
	}
	if uint32(a) < uint32(b) {
		bits |= 2
	}
	if a >= b || in.V[0] != in.V[1] {
		bits |= 4
	}
	if in.V[2] <= in.V[3] == (a > 0) {
		bits |= 8
	}
	above := uint64(in.V[2]) > uint64(in.V[3])
	if above {
		bits |= 16
	}
	if !above && a == b {
		bits |= 32
	}
	out.V[0] = bits
}

// Convert converts between all widths.
func Convert(in, out *Words) {
	x := in.V[0]
	out.V[0] = int64(int8(x)) + int64(uint8(x))
	out.V[1] = int64(int16(x)) + int64(uint16(x))
	out.V[2] = int64(int32(x)) + int64(uint32(x))
	out.V[3] = int64(uint64(x) >> 1)
	out.V[4] = int64(uint32(int8(x)))
	out.V[5] = int64(uint64(int32(x)) >> 8)
	out.V[6] = int64(uint16(int32(x) >> 8))
	out.V[7] = int64(int32(uint8(x))) - int64(int8(uint8(x)))
}

const (
	big    = 1 << 40
	mask32 = 0xffffffff
	mask16 = 0xffff
	least  = -2147483648
	least8 = -9223372036854775808
	small  = -5
	third  = 3.0
	odd    = 16777217.0
	long   = 0xffffffff
)

// Literals uses numbers of all sizes, by name and bare.
func Literals(in, out *Words) {
	x := in.V[0]
	u := uint32(in.V[1])
	out.V[0] = x&mask32 | big
	out.V[1] = int64(u & mask32)
	out.V[2] = int64(u&mask16 + 65536)
	if x > least && x != least8 {
		out.V[3] = least
	}
	out.V[4] = least8 + x&0xff
	out.V[5] = int64(uint64(x) ^ 0x8000000000000000)
	out.V[6] = 'a' + small - x%4294967296
	if int32(x) == least {
		out.V[7] = 40000 * (x & 3)
	}
	out.V[7] += int64(u % 3000000000)
}

// Whole uses numbers written as fractions or with exponents as integers.
func Whole(in, out *Words) {
	x := in.V[0] >> 8
	out.V[0] = x*third + odd
	out.V[1] = x/1e2 + 0x1p4*x
	out.V[2] = int64(uint32(x)*0x1p4 ^ third)
	a := float32(int32(in.V[1]))
	out.V[3] = int64(fixed.RoundF(float32(a*third)+odd-long, -1<<30, 1<<30))
	out.V[4] = int64(brackets[uint32(x)%3])
	out.V[5] = x>>2.0 ^ in.V[1.0]>>third ^ min(in.V[2])
	u := uint32(x) << 0x1p2
	u >>= 1.0
	out.V[6] = int64(u ^ min(u-uint32(x))>>3)
}

var brackets = ([3]int32{3, (-4), 5})

// Precedence mixes operators whose order differs between the languages.
func Precedence(in, out *Words) {
	a := uint32(in.V[0])
	b := uint32(in.V[1])
	c := uint32(in.V[2])
	out.V[0] = int64(a&b + c)
	out.V[1] = int64(a<<2 + b)
	out.V[2] = int64(a + b<<3&c)
	out.V[3] = int64(a - (b - c) - 1)
	out.V[4] = int64(a*(b*c) + a/(b/3|1)*c)
	out.V[5] = int64(a ^ b | c&a)
	if a&b == c&b || a|b != c && a < b {
		out.V[6] = 1
	}
	out.V[7] = int64(a%(b|1)&c) - int64(^a&^b)
}

// Loops loops in every way.
func Loops(in, out *Words) {
	n := int32(in.V[0] & 31)
	sum := int64(0)
	for i := int32(0); i < n; i++ {
		if i&3 == 2 {
			continue
		}
		sum += int64(i) * int64(i)
		if sum > 5000 {
			break
		}
	}
	out.V[0] = sum
	for i := range n {
		n += i & 1 // changes nothing: the count was taken
		out.V[1] += int64(n) - int64(i)
	}
	for range uint8(5) {
		out.V[2] = out.V[2]*3 + 1
	}
	for n > 3 {
		n -= 3
		out.V[3]++
	}
	for {
		n++
		if n > 10 {
			break
		}
	}
	out.V[4] = int64(n)
	last := int64(0)
	for i, j := range in.V {
		if i > 4 {
			last ^= j
		}
	}
	out.V[5] = last
	for i := int32(20); i > 0; i -= 3 {
		for j := i; j > 0; j >>= 1 {
			out.V[6] += int64(j)
		}
	}
}

// Arrays fills and reads arrays.
func Arrays(in, out *Words) {
	var a [16]int32
	for i := range a {
		a[i] = int32(in.V[int32(i)&7] >> i)
	}
	at := uint32(in.V[0]) & 15
	a[at] = 5
	sum := int64(0)
	for i := range a {
		sum += int64(a[i])
	}
	out.V[0] = sum
	total(&a, 3, out)
	out.V[2] = int64(a[(at+1)&15])
}

func total(a *[16]int32, from int32, out *Words) {
	for i := from; i < int32(len(a)); i++ {
		out.V[1] += int64(a[i])
	}
	a[from] = -1
}

// Grid works on an array of arrays.
func Grid(in, out *Words) {
	var g [3][4]int64
	spread(&g, in)
	for i := range g {
		for j := range g[i] {
			out.V[i] += g[i][j] >> 4
		}
	}
	out.V[4] = row(&g[1])
}

func spread(g *[3][4]int64, in *Words) {
	for i := range int32(3) {
		for j := range int32(4) {
			g[i][j] = in.V[(i*4+j)&7] >> i
		}
	}
}

func row(r *[4]int64) int64 { return r[0] ^ r[3] }

// pair is a struct that is passed whole.
type pair struct {
	x, y int32
	ok   bool
}

type nested struct {
	first  pair
	list   [2]pair
	number uint16
}

func (p pair) swapped() pair { return pair{x: p.y, y: p.x, ok: !p.ok} }

func (p *pair) grow(by int32) { p.x = int32(uint32(p.x) + uint32(by)) }

// Structs copies, makes and passes structs.
func Structs(in, out *Words) {
	p := pair{x: int32(in.V[0]), y: int32(in.V[1])}
	q := p.swapped()
	q.grow(7)
	r := p
	r.grow(9)
	out.V[0] = int64(p.x) - int64(q.x) + int64(r.x)
	var n nested
	n.first = q
	n.list[1] = p.swapped()
	n.list[1].grow(p.y)
	n.number = uint16(in.V[2])
	m := n
	m.number++
	out.V[1] = int64(n.list[1].x) + int64(m.list[0].y) + int64(m.number) - int64(n.number)
	n = nested{number: 3, first: pair{y: 5, ok: true}}
	out.V[2] = int64(n.first.y) + int64(n.list[1].x)
	if n.first.ok && !p.ok {
		out.V[3] = int64(p.swapped().x)
	}
	n = nested{}
	out.V[4] = int64(n.first.y)
}

// Pointers goes through pointers into structs and arrays.
func Pointers(in, out *Words) {
	var n nested
	p := &n.list[0]
	if in.V[0] < 0 {
		p = &n.first
	}
	p.x = int32(in.V[1])
	p.grow(3)
	q := pick(&n, in.V[2] < 0)
	q.y = int32(in.V[3])
	*p = q.swapped()
	add(&out.V[0], int64(n.first.x))
	add(&out.V[0], int64(n.first.y))
	add(&out.V[1], int64(n.list[0].x))
	add(&out.V[1], int64(n.list[0].y))
}

func pick(n *nested, first bool) *pair {
	if first {
		return &n.first
	}
	return &n.list[0]
}

func add(to *int64, x int64) { *to = *to>>1 + x }

// Counted counts what pointers point to.
func Counted(in, out *Words) {
	p := &out.V[1]
	*p = in.V[0] >> 1
	*p++
	up(&out.V[2])
	out.V[3] = 5
	up(&out.V[3])
	b := uint8(in.V[1])
	down(&b)
	out.V[4] = int64(b)
}

func up(p *int64) { (*p)++ }

func down(p *uint8) { *p-- }

// Slices passes parts of arrays.
func Slices(in, out *Words) {
	var a [12]int32
	fill(a[:], 12, int32(in.V[0]))
	fill(a[4:], 5, int32(in.V[1]))
	from := int32(in.V[2] & 3)
	out.V[0] = dot(a[:], a[from:], 9)
	out.V[1] = dot(a[3:], table[:], 4)
}

func fill(a []int32, n, x int32) {
	for i := int32(0); i < n; i++ {
		a[i] = x>>(i&31) ^ i
	}
}

func dot(a, b []int32, n int32) int64 {
	sum := int64(0)
	for i := int32(0); i < n; i++ {
		sum += int64(a[i]) * int64(b[i]) >> 4
	}
	return sum
}

// Switches chooses.
func Switches(in, out *Words) {
	switch in.V[0] & 7 {
	case 0, 3:
		x := in.V[1] >> 1
		out.V[0] = x
	case 1:
		out.V[0] = 2
		if in.V[1] > 0 {
			break
		}
		out.V[1] = 3
	default:
		out.V[0] = -1
	case 5:
		// nothing
	}
	switch x := int32(in.V[2]); {
	case x > 1000, x < -1000:
		out.V[2] = 1
	case x > 10:
		out.V[2] = 2
	default:
		out.V[2] = 3
	}
	for i := range int32(10) {
		switch uint8(i) {
		case 3:
			continue
		case late:
			return
		}
		out.V[3] += int64(i)
	}
}

const late = 7

var table = [5]int32{1, -2, 30000, least, 0x7fffffff}

var rows = [2][3]int16{{1, 2, 3}, {-4, -32768, 32767}}

var pairs = [2]pair{{x: 1, y: -2, ok: true}, {y: 7}}

// Tables reads constant tables.
func Tables(in, out *Words) {
	i := uint32(in.V[0])
	out.V[0] = int64(table[i%5])
	out.V[1] = int64(rows[i&1][i%3])
	for _, x := range table {
		out.V[2] += int64(x) // the table never changes
	}
	p := pairs[i&1]
	out.V[3] = int64(p.x) + int64(pairs[0].y)
	if p.ok {
		out.V[4] = int64(len(table))
	}
}

// Extremes takes the least and greatest.
func Extremes(in, out *Words) {
	out.V[0] = min(in.V[0], in.V[1])
	out.V[1] = max(in.V[0], in.V[1], 17)
	out.V[2] = int64(min(uint8(in.V[2]), uint8(in.V[3])))
	out.V[3] = int64(max(int32(in.V[4]), -5) - 1)
	out.V[4] = int64(min(uint32(in.V[5]), 9) + 1)
}

// Shadows declares names again.
func Shadows(in, out *Words) {
	x := in.V[0] >> 1
	if y := x >> 2; y > 3 {
		x := y + 1
		out.V[0] = x
	} else if z := y - 1; z < -9 {
		out.V[0] = z
	} else {
		out.V[0] = -x
	}
	{
		short := int32(3)
		out.V[1] = int64(short) + x
	}
	out.V[2] = x
}

// Logic stops early in && and ||.
func Logic(in, out *Words) {
	var a [4]int32
	i := in.V[0]
	if i >= 0 && i < 4 && a[i] == 0 || in.V[1] > 5 {
		out.V[0] = 1
	}
	ok := i > 3 || !(in.V[1] > 2 && in.V[2] < 0)
	if ok == (in.V[3] > 0) {
		out.V[1] = 1
	}
	out.V[2] = in.V[3]
	if !ok {
		out.V[2] = -3
	}
}

// Alone calls what writes memory, in all places that it may stand in.
func Alone(in, out *Words) {
	var r Random
	r.State = uint64(in.V[0]) | 1
	x := r.next()
	y := uint32(r.next())
	out.V[0] = int64(x)
	out.V[1] = int64(y)
	if r.coin() {
		out.V[2] = 1
	}
	if !r.coin() {
		out.V[3] = int64(r.next())
	}
	for r.coin() {
		out.V[4]++
	}
	out.V[5] = int64(twice(&r))
	r.coin()
	out.V[6] = int64(r.State)
}

func (r *Random) coin() bool {
	x := r.next()
	return x&1 != 0
}

func twice(r *Random) uint64 {
	x := r.next()
	return x ^ uint64(r.State)
}

type verdict uint8

const (
	never verdict = iota
	perhaps
	always
)

type q8 int32

func (q q8) half() q8 { return q / 2 }

func judge(x int64) verdict {
	switch {
	case x < 0:
		return never
	case x&1 == 0:
		return perhaps
	}
	return always
}

// Named uses numbers with names of their own.
func Named(in, out *Words) {
	v := judge(in.V[0])
	if v == perhaps {
		v = always
	} else {
		v |= 4
	}
	out.V[0] = int64(v)
	q := q8(in.V[1])
	out.V[1] = int64(q.half()) + int64(int32(q)>>1)
}

// Floats computes in float32: each step rounded, none fused.
func Floats(in, out *Words) {
	a := float32(int32(in.V[0]))
	b := float32(in.V[1])
	c := float32(float32(uint16(in.V[2])) * 0.125)
	s := float32(a*c) + b
	d := float32(s*0.1) - float32(b/(c+1))
	if d < 0 {
		d = -d
	}
	d += 1e-3
	d = float32(d * c)
	out.V[0] = int64(fixed.RoundF(s, -1<<30, 1<<30))
	out.V[1] = int64(fixed.RoundF(d, -1000000, 1000000))
	out.V[2] = int64(fixed.RoundF(fixed.SqrtF(c), 0, 10000))
	if s > b || d >= 5 {
		out.V[3] = int64(fixed.RoundF(float32(fixed.FabsF(s)*1e-6), 0, 1<<30))
	}
}

// Library runs the arithmetic that boards use, in 32 bits.
func Library(in, out *Words) {
	a := int32(in.V[0])
	b := int32(in.V[1])
	n := uint32(in.V[2]) & 31
	out.V[0] = int64(fixed.AddSat32(a, b)) + int64(fixed.SubSat32(a, b))
	out.V[1] = int64(fixed.Mul(a, b, n)) ^ int64(fixed.MulQ31(a, b))
	out.V[2] = int64(fixed.Div32(a, b)) ^ int64(fixed.ShiftUp32(a, n))
	out.V[3] = int64(fixed.Sqrt32(uint32(a))) + int64(fixed.Hypot(a, b))
	angle := fixed.Atan2(a, b)
	out.V[4] = int64(angle) + int64(fixed.Decideg(angle))
	out.V[5] = int64(fixed.Tanh(b)) ^ int64(fixed.Exp(a)) ^ int64(fixed.Exp2(b))
	v := fixed.Turn(fixed.Vector{X: a >> 2, Y: b >> 2}, angle)
	u := fixed.SinCos(b)
	out.V[6] = int64(v.X) ^ int64(v.Y)*3 ^ int64(u.X) ^ int64(u.Y)
	out.V[7] = int64(fixed.MulQ15(int16(a), int16(b))) ^ int64(fixed.Round32(a, n))
}

// Library64 runs it in 64 bits.
func Library64(in, out *Words) {
	a := in.V[0]
	b := in.V[1]
	out.V[0] = fixed.AddSat64(a, b) ^ fixed.SubSat64(a, b)
	out.V[1] = fixed.MulSat64(a, b)
	out.V[2] = fixed.Div64(a, b)
	out.V[3] = int64(fixed.Div(a, int32(b)))
	out.V[4] = int64(fixed.Sqrt64(uint64(a))) + int64(fixed.Log2(uint64(b)))
	out.V[5] = fixed.Round64(a, uint32(b)&63)
	var bytes [8]uint8
	for i := range bytes {
		bytes[i] = uint8(in.V[i])
	}
	out.V[6] = int64(fixed.CRC16(bytes[:], 8, 0xffff)) + int64(fixed.CRC16Word(uint32(a), 0xffff))
}
