package pack

import (
	"encoding/binary"
	"errors"

	"github.com/klauspost/compress/huff0"
)

// frameHeader starts a frame of a window of one block and of unknown length,
// without a checksum: a log is named by the SHA-256 of its bytes (RFC 8878,
// section 3.1.1.1).
var frameHeader = []byte{
	0x28, 0xB5, 0x2F, 0xFD, // magic number
	0,      // descriptor: nothing but the window
	7 << 3, // window of 2^(10+7) bytes
}

// Types of blocks (RFC 8878, section 3.1.1.2).
const (
	blockRaw = iota
	blockRepeated
	blockPacked
)

// huffman writes the block that waits without any repeats, as literals that are
// Huffman coded in four streams (RFC 8878, section 3.1.1.3), or as it is where
// that gains nothing.
func (w *Writer) huffman() error {
	n := len(w.block)
	packed, _, err := huff0.Compress4X(w.block, &w.scratch)
	switch {
	case errors.Is(err, huff0.ErrUseRLE):
		return w.write(blockHeader(blockRepeated, n, false), w.block[:1])
	case err != nil && !errors.Is(err, huff0.ErrIncompressible):
		return err
	}
	const (
		literals    = 2 // Huffman coded, with a table of their own
		fourStreams = 3 // and sizes of 18 bits
	)
	sizes := littleEndian(literals|fourStreams<<2|uint64(n)<<4|uint64(len(packed))<<22, 5)
	noRepeats := []byte{0} // number of sequences
	size := len(sizes) + len(packed) + len(noRepeats)
	if err != nil || size >= n {
		return w.write(blockHeader(blockRaw, n, false), w.block)
	}
	return w.write(blockHeader(blockPacked, size, false), sizes, packed, noRepeats)
}

// blockHeader starts a block of a number of bytes, which for a repeated byte are
// those that it stands for.
func blockHeader(kind, n int, last bool) []byte {
	head := uint64(kind)<<1 | uint64(n)<<3
	if last {
		head |= 1
	}
	return littleEndian(head, 3)
}

func littleEndian(x uint64, n int) []byte {
	return binary.LittleEndian.AppendUint64(nil, x)[:n]
}

// write writes the parts of a block.
func (w *Writer) write(parts ...[]byte) error {
	w.out = w.out[:0]
	for _, p := range parts {
		w.out = append(w.out, p...)
	}
	_, err := w.to.Write(w.out)
	return err
}
