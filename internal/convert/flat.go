package convert

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// errCorrupt is the root of every complaint about a file's bytes.
var errCorrupt = errors.New("not a sound TFLite file")

// flat reads a FlatBuffer with every offset checked. The first offset that
// leads outside the bytes is remembered in err, and everything read after it
// is zero; the caller looks at err once, at the end of a table or list.
//
// Layout: FlatBuffers, "Internals" (offsets are little-endian and unsigned,
// a table starts with a signed offset back to its table of fields).
type flat struct {
	b   []byte
	err error
}

// table is the place of one FlatBuffer table: its own position and that of
// its field table, whose length in bytes is fields.
type table struct {
	f      *flat
	pos    int
	vtable int
	fields int
}

func (f *flat) fail(format string, args ...any) {
	if f.err == nil {
		f.err = fmt.Errorf("%w: %s", errCorrupt, fmt.Sprintf(format, args...))
	}
}

// span tells whether n bytes can be read at pos, and remembers if not.
func (f *flat) span(pos, n int) bool {
	if f.err != nil {
		return false
	}
	if pos < 0 || n < 0 || pos > len(f.b) || n > len(f.b)-pos {
		f.fail("%d bytes at %d lie outside its %d", n, pos, len(f.b))
		return false
	}
	return true
}

func (f *flat) u8(pos int) uint8 {
	if !f.span(pos, 1) {
		return 0
	}
	return f.b[pos]
}

func (f *flat) u16(pos int) uint16 {
	if !f.span(pos, 2) {
		return 0
	}
	return binary.LittleEndian.Uint16(f.b[pos:])
}

func (f *flat) i32(pos int) int32 {
	if !f.span(pos, 4) {
		return 0
	}
	return int32(binary.LittleEndian.Uint32(f.b[pos:]))
}

// follow gives the position that the unsigned offset at pos points to.
func (f *flat) follow(pos int) int {
	if !f.span(pos, 4) {
		return 0
	}
	to := pos + int(binary.LittleEndian.Uint32(f.b[pos:]))
	if !f.span(to, 4) {
		return 0
	}
	return to
}

// root gives the outermost table.
func (f *flat) root() table { return f.table(f.follow(0)) }

// table reads the head of the table at pos.
func (f *flat) table(pos int) table {
	t := table{f: f, pos: pos}
	t.vtable = pos - int(f.i32(pos))
	t.fields = int(f.u16(t.vtable))
	if !f.span(t.vtable, t.fields) {
		t.fields = 0
	}
	return t
}

// field gives the position of field i, or 0 where the table leaves it out.
func (t table) field(i int) int {
	at := 4 + 2*i
	if t.f.err != nil || at+2 > t.fields {
		return 0
	}
	off := int(t.f.u16(t.vtable + at))
	if off == 0 {
		return 0
	}
	return t.pos + off
}

// has tells whether field i is present.
func (t table) has(i int) bool { return t.field(i) != 0 }

func (t table) u8(i int, absent uint8) uint8 {
	if p := t.field(i); p != 0 {
		return t.f.u8(p)
	}
	return absent
}

func (t table) i32(i int, absent int32) int32 {
	if p := t.field(i); p != 0 {
		return t.f.i32(p)
	}
	return absent
}

// sub gives the table that field i points to; the field must be present.
func (t table) sub(i int) table {
	p := t.field(i)
	if p == 0 {
		t.f.fail("field %d of the table at %d is absent", i, t.pos)
		return table{f: t.f}
	}
	return t.f.table(t.f.follow(p))
}

// vector gives the position of the first element and the number of elements
// of the vector in field i, whose elements take size bytes each.
func (t table) vector(i, size int) (pos, n int) {
	p := t.field(i)
	if p == 0 {
		return 0, 0
	}
	at := t.f.follow(p)
	count := int(uint32(t.f.i32(at)))
	if count > len(t.f.b)/size || !t.f.span(at+4, count*size) {
		t.f.fail("a list of %d at %d is longer than the file", count, at)
		return 0, 0
	}
	return at + 4, count
}

// bytes gives the vector of bytes in field i; it shares the file's memory.
func (t table) bytes(i int) []byte {
	pos, n := t.vector(i, 1)
	return t.f.b[pos : pos+n]
}

// ints gives the vector of 32-bit integers in field i, at most limit of them.
func (t table) ints(i, limit int) []int {
	pos, n := t.vector(i, 4)
	if n > limit {
		t.f.fail("a list of %d numbers, more than %d", n, limit)
		return nil
	}
	out := make([]int, n)
	for k := range out {
		out[k] = int(t.f.i32(pos + 4*k))
	}
	return out
}

// tables gives the vector of tables in field i, at most limit of them.
func (t table) tables(i, limit int) []table {
	pos, n := t.vector(i, 4)
	if n > limit {
		t.f.fail("a list of %d tables, more than %d", n, limit)
		return nil
	}
	out := make([]table, n)
	for k := range out {
		out[k] = t.f.table(t.f.follow(pos + 4*k))
	}
	return out
}
