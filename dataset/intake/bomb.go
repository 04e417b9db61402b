package intake

import "fmt"

// Limits of a compressed log, so that some kilobytes from anywhere cannot keep a
// reader busy for days.
const (
	maxWindow = 128 << 20 // bytes that a zstd stream may look back: as far as its own tool unpacks without being asked to
	maxSwell  = 1000      // times its size; logs unpack to some ten times, those of a sensor that is stuck to a hundred
	freeSwell = 64 << 20  // bytes unpacked before that counts, as a reader takes packed bytes ahead
)

// swells refuses a log that unpacks to more than any recording does.
func swells(unpacked, packed int64) error {
	if unpacked > freeSwell && unpacked/maxSwell > packed {
		return fmt.Errorf("its first %d bytes unpack to more than %d times as many: this is no log of a board", packed, maxSwell)
	}
	return nil
}
