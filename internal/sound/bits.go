package sound

// bitWriter appends bits to bytes, most significant first.
type bitWriter struct {
	b    []byte
	hold uint64
	n    uint // bits in hold, fewer than 8 between calls
}

// put appends the lowest n bits of v, n ≤ 32.
func (w *bitWriter) put(v uint32, n uint) {
	w.hold = w.hold<<n | uint64(v)&(1<<n-1)
	for w.n += n; w.n >= 8; w.n -= 8 {
		w.b = append(w.b, byte(w.hold>>(w.n-8)))
	}
}

// rice appends a number in Rice code of parameter k: its high part in unary
// (noughts, then a one), its k low bits as they are.
func (w *bitWriter) rice(v uint32, k uint) {
	high := v >> k
	for ; high >= 24; high -= 24 {
		w.put(0, 24)
	}
	w.put(1, uint(high)+1)
	w.put(v, k)
}

// align pads with noughts to a whole byte.
func (w *bitWriter) align() {
	if w.n > 0 {
		w.put(0, 8-w.n)
	}
}

// crc is a cyclic redundancy check without reflection or final change, of
// 8 or 16 bits, as FLAC's frames carry.
type crc struct {
	table [256]uint16
	width uint
}

func newCRC(poly uint16, width uint) *crc {
	c := &crc{width: width}
	top := uint16(1) << (width - 1)
	for i := range c.table {
		v := uint16(i) << (width - 8)
		for range 8 {
			if v&top != 0 {
				v = v<<1 ^ poly
			} else {
				v <<= 1
			}
		}
		c.table[i] = v
	}
	return c
}

func (c *crc) of(b []byte) uint16 {
	var v uint16
	for _, x := range b {
		v = v<<8 ^ c.table[byte(v>>(c.width-8))^x]
	}
	if c.width < 16 {
		v &= 1<<c.width - 1
	}
	return v
}
