package convert_test

import "encoding/binary"

// A small writer of FlatBuffers: tables are written before what they point to,
// each with its table of fields just before it.

// fields maps a field's number to its value: int32, []int32, []byte, string,
// fields or []fields.
type fields map[int]any

type writer struct{ b []byte }

func (w *writer) u16(v int) { w.b = binary.LittleEndian.AppendUint16(w.b, uint16(v)) }
func (w *writer) u32(v int) { w.b = binary.LittleEndian.AppendUint32(w.b, uint32(v)) }

// point makes the offset at pos lead to the end of what is written so far.
func (w *writer) point(pos int) {
	for len(w.b)%4 != 0 {
		w.b = append(w.b, 0)
	}
	binary.LittleEndian.PutUint32(w.b[pos:], uint32(len(w.b)-pos))
}

func (w *writer) table(f fields) {
	count := 0
	for i := range f {
		count = max(count, i+1)
	}
	start := len(w.b)
	w.u16(4 + 2*count)
	w.u16(4 + 4*count)
	for i := range count {
		if _, ok := f[i]; ok {
			w.u16(4 + 4*i)
		} else {
			w.u16(0)
		}
	}
	for len(w.b)%4 != 0 {
		w.b = append(w.b, 0)
	}
	table := len(w.b)
	w.u32(table - start)
	for i := range count {
		v, _ := f[i].(int32)
		w.u32(int(v))
	}
	for i := range count {
		w.value(table+4+4*i, f[i])
	}
}

// value writes what the offset at pos points to.
func (w *writer) value(pos int, v any) {
	switch v := v.(type) {
	case fields:
		// The offset must lead to the table, behind its table of fields.
		inner := writer{}
		inner.table(v)
		w.point(pos)
		at := len(w.b)
		w.table(v)
		binary.LittleEndian.PutUint32(w.b[pos:], uint32(at+headOf(inner.b)-pos))
	case []fields:
		w.point(pos)
		w.u32(len(v))
		first := len(w.b)
		for range v {
			w.u32(0)
		}
		for i, e := range v {
			w.value(first+4*i, e)
		}
	case []int32:
		w.point(pos)
		w.u32(len(v))
		for _, e := range v {
			w.u32(int(e))
		}
	case []byte:
		w.point(pos)
		w.u32(len(v))
		w.b = append(w.b, v...)
		w.b = append(w.b, 0)
	case string:
		w.value(pos, []byte(v))
	}
}

// headOf is the length of the table of fields before the first table in b.
func headOf(b []byte) int {
	n := int(binary.LittleEndian.Uint16(b))
	return (n + 3) / 4 * 4
}

// model builds a TFLite file from one subgraph.
type model struct {
	tensors   []fields
	buffers   []fields
	operators []fields
	codes     []fields
}

// tensor adds a tensor and gives its number; data may be nil.
func (m *model) tensor(name string, kind int32, data []byte, shape ...int32) int32 {
	if len(m.buffers) == 0 {
		m.buffers = append(m.buffers, fields{})
	}
	buffer := int32(0)
	if data != nil {
		buffer = int32(len(m.buffers))
		m.buffers = append(m.buffers, fields{0: data})
	}
	m.tensors = append(m.tensors, fields{0: shape, 1: kind, 2: buffer, 3: name})
	return int32(len(m.tensors) - 1)
}

// value adds a tensor of singles that is computed.
func (m *model) value(name string, shape ...int32) int32 { return m.tensor(name, 0, nil, shape...) }

// singles adds a constant.
func (m *model) singles(shape []int32, v ...float32) int32 {
	return m.tensor("constant", 0, float32Bytes(v), shape...)
}

// integers adds a constant.
func (m *model) integers(shape []int32, v ...int32) int32 {
	var b []byte
	for _, e := range v {
		b = binary.LittleEndian.AppendUint32(b, uint32(e))
	}
	return m.tensor("integers", 2, b, shape...)
}

// step adds an operator; options may be nil.
func (m *model) step(code int32, options fields, output int32, inputs ...int32) {
	m.codes = append(m.codes, fields{0: min(code, 127), 3: code})
	o := fields{0: int32(len(m.codes) - 1), 1: inputs, 2: []int32{output}}
	if options != nil {
		o[4] = options
	}
	m.operators = append(m.operators, o)
}

// file writes the model with one input and one output.
func (m *model) file(input, output int32) []byte {
	graph := fields{0: m.tensors, 1: []int32{input}, 2: []int32{output}, 3: m.operators}
	w := &writer{b: []byte("\x00\x00\x00\x00TFL3")}
	w.value(0, fields{0: int32(3), 1: m.codes, 2: []fields{graph}, 4: m.buffers})
	return w.b
}
