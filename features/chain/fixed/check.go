package fixed

// CRC16 continues the check CRC-16/CCITT-FALSE (polynomial 0x1021, not
// reflected) over n bytes. It begins with 0xffff.
func CRC16(data []uint8, n int32, crc uint16) uint16 {
	sum := uint32(crc)
	for i := int32(0); i < n; i++ {
		sum ^= uint32(data[i]) << 8
		for range int32(8) {
			if sum&0x8000 != 0 {
				sum = sum<<1 ^ 0x1021
			} else {
				sum <<= 1
			}
		}
		sum &= 0xffff
	}
	return uint16(sum)
}

// CRC16Word continues the check over a number of 32 bits, its highest byte
// first: of tables whose numbers are not bytes.
func CRC16Word(x uint32, crc uint16) uint16 {
	sum := uint32(crc)
	for shift := uint32(32); shift > 0; {
		shift -= 8
		sum ^= (x >> (shift & 31) & 0xff) << 8
		for range int32(8) {
			if sum&0x8000 != 0 {
				sum = sum<<1 ^ 0x1021
			} else {
				sum <<= 1
			}
		}
		sum &= 0xffff
	}
	return uint16(sum)
}
