package corpus

import (
	"encoding/binary"
	"errors"

	"github.com/klauspost/compress/huff0"
)

// literals compresses streams of noisy bytes into a Zstandard frame (RFC 8878)
// of Huffman-coded literals. It looks for no repetitions: in readings of a
// sensor there are none but by chance, and to point at those takes more room
// and several times the time.
type literals struct{ huff huff0.Scratch }

// blockBytes is the longest block of a frame.
const blockBytes = 128 << 10

// Kinds of blocks, in place in a block's header.
const (
	blockRaw        = 0 << 1
	blockRepeated   = 1 << 1
	blockCompressed = 2 << 1
)

// appendFrame appends one frame with what is in src, which may be empty.
func (l *literals) appendFrame(dst, src []byte) ([]byte, error) {
	// Magic number; one segment as large as the content, whose size takes 4 bytes.
	dst = append(dst, 0x28, 0xb5, 0x2f, 0xfd, 0xa0)
	dst = binary.LittleEndian.AppendUint32(dst, uint32(len(src)))
	for {
		block := src[:min(blockBytes, len(src))]
		src = src[len(block):]
		var err error
		if dst, err = l.appendBlock(dst, block, len(src) == 0); err != nil || len(src) == 0 {
			return dst, err
		}
	}
}

func (l *literals) appendBlock(dst, block []byte, last bool) ([]byte, error) {
	head := func(kind, size int) {
		h := uint32(size)<<3 | uint32(kind)
		if last {
			h |= 1
		}
		dst = append(dst, byte(h), byte(h>>8), byte(h>>16))
	}
	const few = 1 << 10 // too few for four streams
	coded, err := []byte(nil), huff0.ErrIncompressible
	if len(block) >= few {
		l.huff.Reuse = huff0.ReusePolicyNone
		coded, _, err = huff0.Compress4X(block, &l.huff)
	}
	const headers = 5 + 1 // of the literals, and no sequences
	switch {
	case errors.Is(err, huff0.ErrUseRLE):
		head(blockRepeated, len(block))
		return append(dst, block[0]), nil
	case errors.Is(err, huff0.ErrIncompressible), err == nil && len(coded)+headers >= len(block):
		head(blockRaw, len(block))
		return append(dst, block...), nil
	case err != nil:
		return dst, err
	}
	head(blockCompressed, len(coded)+headers)
	const fourStreams18Bits = 3<<2 | 2 // compressed literals with a tree of their own
	h := uint64(fourStreams18Bits) | uint64(len(block))<<4 | uint64(len(coded))<<22
	dst = append(dst, byte(h), byte(h>>8), byte(h>>16), byte(h>>24), byte(h>>32))
	return append(append(dst, coded...), 0), nil
}
