package convert

import (
	"fmt"
	"slices"
)

// Limits that keep a hostile file from asking for more memory than a network
// of this kind can need.
const (
	maxTensors  = 8192
	maxOps      = 8192
	maxRank     = 6
	maxElements = 1 << 24 // of one tensor
	maxList     = 1 << 22 // entries of one sparse index
	maxWeights  = 1 << 26 // of one network
)

// Element types of a tensor (TFLite schema, TensorType).
const (
	typeFloat32 = 0
	typeFloat16 = 1
	typeInt32   = 2
)

// Operators by their number in the TFLite schema (BuiltinOperator).
const (
	opAdd           = 0
	opConcat        = 2
	opConv          = 3
	opDepthwiseConv = 4
	opDepthToSpace  = 5
	opDequantize    = 6
	opLogistic      = 14
	opMaxPool       = 17
	opReshape       = 22
	opResize        = 23
	opPad           = 34
	opDensify       = 124
)

// network is one TFLite subgraph as written.
type network struct {
	tensors []tensor
	ops     []operator
	inputs  []int // tensor numbers
	outputs []int
}

// tensor is a value of the network; data is nil unless it is a constant.
type tensor struct {
	name   string
	shape  []int
	kind   uint8 // typeFloat32 …
	data   []byte
	sparse *sparsity
}

// operator is one step; inputs may hold −1 for one left out.
type operator struct {
	code    int
	inputs  []int
	outputs []int
	options table
	given   bool // options are present
}

// readNetwork reads the one subgraph of a TFLite file.
func readNetwork(b []byte) (*network, error) {
	if len(b) < 8 || string(b[4:8]) != "TFL3" {
		return nil, fmt.Errorf("%w: the mark TFL3 is missing", errCorrupt)
	}
	f := &flat{b: b}
	model := f.root()
	codes := readCodes(model)
	buffers := model.tables(4, maxTensors)
	graphs := model.tables(2, 16)
	if f.err != nil {
		return nil, f.err
	}
	if len(graphs) != 1 {
		return nil, fmt.Errorf("%w: %d subgraphs where one is expected", errCorrupt, len(graphs))
	}
	n := &network{inputs: graphs[0].ints(1, 64), outputs: graphs[0].ints(2, 64)}
	for _, t := range graphs[0].tables(0, maxTensors) {
		n.tensors = append(n.tensors, readTensor(t, buffers))
	}
	for _, o := range graphs[0].tables(3, maxOps) {
		n.ops = append(n.ops, readOperator(o, codes))
	}
	if f.err != nil {
		return nil, f.err
	}
	return n, n.check()
}

// readCodes lists the operator number of each entry of the operator table.
// Numbers below 127 stand in the older one-byte field too; the larger wins.
func readCodes(model table) []int {
	var codes []int
	for _, c := range model.tables(1, 1024) {
		codes = append(codes, max(int(int8(c.u8(0, 0))), int(c.i32(3, 0))))
	}
	return codes
}

func readTensor(t table, buffers []table) tensor {
	out := tensor{shape: t.ints(0, maxRank), kind: t.u8(1, typeFloat32), name: string(t.bytes(3))}
	buffer := int(t.i32(2, 0))
	if buffer < 0 || buffer >= len(buffers) {
		t.f.fail("tensor %q wants buffer %d of %d", out.name, buffer, len(buffers))
		return out
	}
	if data := buffers[buffer].bytes(0); len(data) > 0 {
		out.data = data
	}
	if t.has(6) {
		out.sparse = readSparsity(t.sub(6))
	}
	return out
}

func readOperator(o table, codes []int) operator {
	out := operator{code: -1, inputs: o.ints(1, 64), outputs: o.ints(2, 64)}
	index := int(o.i32(0, 0))
	if index < 0 || index >= len(codes) {
		o.f.fail("an operator has number %d of %d", index, len(codes))
		return out
	}
	out.code = codes[index]
	if o.has(4) {
		out.options, out.given = o.sub(4), true
	}
	return out
}

// check makes sure that every number of a tensor leads to one, that no shape
// is empty or huge, and that steps come after what they need.
func (n *network) check() error {
	for _, t := range n.tensors {
		if _, err := elements(t.shape); err != nil {
			return fmt.Errorf("tensor %q: %w", t.name, err)
		}
	}
	known := make([]bool, len(n.tensors))
	for i, t := range n.tensors {
		known[i] = t.data != nil
	}
	inside := func(list []int) bool {
		return !slices.ContainsFunc(list, func(i int) bool { return i < 0 || i >= len(known) })
	}
	if !inside(n.inputs) || !inside(n.outputs) {
		return fmt.Errorf("%w: an input or output is no tensor", errCorrupt)
	}
	for _, i := range n.inputs {
		known[i] = true
	}
	for k, o := range n.ops {
		if !inside(o.inputs) || !inside(o.outputs) || len(o.inputs) == 0 || len(o.outputs) != 1 {
			return fmt.Errorf("%w: step %d (operator %d) has inputs %v and outputs %v",
				errCorrupt, k, o.code, o.inputs, o.outputs)
		}
		for _, i := range o.inputs {
			if !known[i] {
				return fmt.Errorf("%w: step %d needs %q before it is made", errCorrupt, k, n.tensors[i].name)
			}
		}
		if known[o.outputs[0]] {
			return fmt.Errorf("%w: step %d makes %q a second time", errCorrupt, k, n.tensors[o.outputs[0]].name)
		}
		known[o.outputs[0]] = true
	}
	for _, i := range n.outputs {
		if !known[i] {
			return fmt.Errorf("%w: output %q is never made", errCorrupt, n.tensors[i].name)
		}
	}
	return nil
}

// elements is the product of a shape, each size at least 1.
func elements(shape []int) (int, error) {
	n := 1
	for _, s := range shape {
		if s < 1 || s > maxElements/n {
			return 0, fmt.Errorf("%w: shape %v", errCorrupt, shape)
		}
		n *= s
	}
	return n, nil
}

// producer maps each tensor to the step that makes it, or −1.
func (n *network) producer() []int {
	made := make([]int, len(n.tensors))
	for i := range made {
		made[i] = -1
	}
	for k, o := range n.ops {
		for _, t := range o.outputs {
			made[t] = k
		}
	}
	return made
}

// needed marks the steps without which the wanted tensors can't be made.
func (n *network) needed(wanted []int) []bool {
	made, keep := n.producer(), make([]bool, len(n.ops))
	todo := slices.Clone(wanted)
	for len(todo) > 0 {
		k := made[todo[len(todo)-1]]
		todo = todo[:len(todo)-1]
		if k < 0 || keep[k] {
			continue
		}
		keep[k] = true
		todo = append(todo, n.ops[k].inputs...)
	}
	return keep
}
