package convert

import (
	"encoding/binary"
	"fmt"
	"math"
)

// Versions written into the file: ONNX IR 8 and operator set 13.
const (
	irVersion = 8
	opset     = 13
)

// graph is an ONNX graph in the making.
type graph struct {
	inputs, outputs []port
	nodes           []node
	constants       []constant
	known           map[string]string // constants by content, for sharing
}

type port struct {
	name  string
	shape []int
}

type node struct {
	op      string
	inputs  []string
	output  string
	options []attribute
}

// attribute holds integers, or a word where word is not empty.
type attribute struct {
	name   string
	ints   []int
	single bool // one integer, not a list
	word   string
}

func intOf(name string, v int) attribute     { return attribute{name: name, ints: []int{v}, single: true} }
func intsOf(name string, v ...int) attribute { return attribute{name: name, ints: v} }
func wordOf(name string, v string) attribute { return attribute{name: name, word: v} }

// constant is a tensor of singles, or of 64-bit integers where ints is set.
type constant struct {
	name   string
	shape  []int
	floats []float32
	ints   []int
}

// add appends a node whose output has the given name.
func (g *graph) add(op string, inputs []string, output string, options ...attribute) {
	g.nodes = append(g.nodes, node{op, inputs, output, options})
}

// fresh appends a node and gives the new name of its output.
func (g *graph) fresh(op string, inputs []string, options ...attribute) string {
	name := fmt.Sprintf("v%d", len(g.nodes))
	g.add(op, inputs, name, options...)
	return name
}

// weights adds a constant of the given shape.
func (g *graph) weights(v []float32, shape ...int) string {
	name := fmt.Sprintf("c%d", len(g.constants))
	g.constants = append(g.constants, constant{name: name, shape: shape, floats: v})
	return name
}

// scalar gives a constant of rank 0, shared by all that want the same.
func (g *graph) scalar(v float32) string {
	return g.shared(fmt.Sprintf("scalar %v", v), constant{shape: []int{}, floats: []float32{v}})
}

// ints gives a constant list of integers, shared.
func (g *graph) ints(v ...int) string {
	return g.shared(fmt.Sprintf("ints %v", v), constant{shape: []int{len(v)}, ints: v})
}

// list gives a constant list of singles, shared.
func (g *graph) list(v ...float32) string {
	return g.shared(fmt.Sprintf("floats %v", v), constant{shape: []int{len(v)}, floats: v})
}

func (g *graph) shared(key string, c constant) string {
	if name, ok := g.known[key]; ok {
		return name
	}
	if g.known == nil {
		g.known = map[string]string{}
	}
	c.name = fmt.Sprintf("c%d", len(g.constants))
	g.constants = append(g.constants, c)
	g.known[key] = c.name
	return c.name
}

// message is a protocol buffer in the making (wire types 0, varint, and 2,
// length and bytes). Field numbers below are those of onnx.proto.
type message []byte

func (m *message) number(field int, v int) {
	*m = binary.AppendUvarint(*m, uint64(field)<<3)
	*m = binary.AppendUvarint(*m, uint64(int64(v)))
}

func (m *message) bytes(field int, v []byte) {
	*m = binary.AppendUvarint(*m, uint64(field)<<3|2)
	*m = binary.AppendUvarint(*m, uint64(len(v)))
	*m = append(*m, v...)
}

func (m *message) text(field int, v string) { m.bytes(field, []byte(v)) }

// encode writes ModelProto.
func (g *graph) encode(name string) []byte {
	var set, body, m message
	set.text(1, "")
	set.number(2, opset)
	for _, n := range g.nodes {
		body.bytes(1, n.encode())
	}
	body.text(2, name)
	for _, c := range g.constants {
		body.bytes(5, c.encode())
	}
	for _, p := range g.inputs {
		body.bytes(11, p.encode())
	}
	for _, p := range g.outputs {
		body.bytes(12, p.encode())
	}
	m.number(1, irVersion)
	m.text(2, "plumbstride")
	m.bytes(7, body)
	m.bytes(8, set)
	return m
}

// encode writes NodeProto.
func (n node) encode() message {
	var m message
	for _, in := range n.inputs {
		m.text(1, in)
	}
	m.text(2, n.output)
	m.text(3, n.output)
	m.text(4, n.op)
	for _, a := range n.options {
		m.bytes(5, a.encode())
	}
	return m
}

// encode writes AttributeProto.
func (a attribute) encode() message {
	const kindInt, kindString, kindInts = 2, 3, 7
	var m message
	m.text(1, a.name)
	switch {
	case a.word != "":
		m.text(4, a.word)
		m.number(20, kindString)
	case a.single:
		m.number(3, a.ints[0])
		m.number(20, kindInt)
	default:
		for _, v := range a.ints {
			m.number(8, v)
		}
		m.number(20, kindInts)
	}
	return m
}

// encode writes TensorProto with raw data, little-endian.
func (c constant) encode() message {
	const kindFloat, kindInt64 = 1, 7
	var m message
	for _, d := range c.shape {
		m.number(1, d)
	}
	var raw []byte
	if c.ints != nil {
		m.number(2, kindInt64)
		for _, v := range c.ints {
			raw = binary.LittleEndian.AppendUint64(raw, uint64(int64(v)))
		}
	} else {
		m.number(2, kindFloat)
		raw = make([]byte, 0, 4*len(c.floats))
		for _, v := range c.floats {
			raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(v))
		}
	}
	m.text(8, c.name)
	m.bytes(9, raw)
	return m
}

// encode writes ValueInfoProto of a tensor of singles.
func (p port) encode() message {
	var shape, tensor, kind, m message
	for _, d := range p.shape {
		var dim message
		dim.number(1, d)
		shape.bytes(1, dim)
	}
	tensor.number(1, 1)
	tensor.bytes(2, shape)
	kind.bytes(1, tensor)
	m.text(1, p.name)
	m.bytes(2, kind)
	return m
}
