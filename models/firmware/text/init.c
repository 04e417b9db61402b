// The checksum of the table: CRC-16/CCITT-FALSE over its bytes.
static uint16_t table_crc(void)
{
	const uint8_t *at = (const uint8_t *)&strikerose_table;
	uint32_t crc = 0xFFFFu;

	for (uint32_t i = 0; i < (uint32_t)sizeof strikerose_table; i++) {
		crc ^= (uint32_t)at[i] << 8;
		for (uint32_t bit = 0; bit < 8u; bit++) {
			crc = (crc << 1) ^ ((crc & 0x8000u) != 0u ? 0x1021u : 0u);
		}
		crc &= 0xFFFFu;
	}
	return (uint16_t)crc;
}

int strikerose_init(strikerose_t *d)
{
	memset(d, 0, sizeof *d);
	if (strikerose_table_layout != STRIKEROSE_LAYOUT) {
		return STRIKEROSE_OTHER_TABLE;
	}
	if (table_crc() != strikerose_table_crc) {
		return STRIKEROSE_DAMAGED_TABLE;
	}
	strikerose_restart(d);
	return STRIKEROSE_READY;
}
