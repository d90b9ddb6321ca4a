package convert

import (
	"fmt"
	"slices"
)

// Spec names what is kept of a network.
type Spec struct {
	Name    string
	Input   string   // name for the one input
	Shape   []int    // its shape: 1, rows, columns, channels
	Outputs []Output // in the order in which the ONNX graph lists them
}

// Output renames and reshapes one output.
type Output struct {
	From  string // name in the TFLite file
	As    string // name in the ONNX graph
	Shape []int  // shape in the ONNX graph; elements in the order of the TFLite file
}

// Landmarks describes a landmark network (lite, full, heavy): image
// 1×256×256×3 in [0, 1] → landmarks 39 × (x, y, z, visibility, presence) in
// pixels of the image and logits; presence, the probability that the image
// holds a person; heatmap 64×64×39 logits; world 39 × (x, y, z) in metres.
// The silhouette is left out, with the fifth of the work that it costs.
func Landmarks() Spec {
	return Spec{Name: "landmarks", Input: "image", Shape: []int{1, 256, 256, 3}, Outputs: []Output{
		{From: "Identity", As: "landmarks", Shape: []int{195}},
		{From: "Identity_1", As: "presence", Shape: []int{1}},
		{From: "Identity_3", As: "heatmap", Shape: []int{64, 64, 39}},
		{From: "Identity_4", As: "world", Shape: []int{117}},
	}}
}

// Detector describes the person detector: image 1×224×224×3 in [−1, 1] →
// boxes, one row of 12 for each of 2,254 anchors; scores, logits.
func Detector() Spec {
	return Spec{Name: "detector", Input: "image", Shape: []int{1, 224, 224, 3}, Outputs: []Output{
		{From: "Identity", As: "boxes", Shape: []int{2254, 12}},
		{From: "Identity_1", As: "scores", Shape: []int{2254}},
	}}
}

// ONNX converts a TFLite file to an ONNX file with single-precision weights.
// A damaged file, an operator that step doesn't know, or a network without
// the named outputs is an error.
func ONNX(tflite []byte, spec Spec) ([]byte, error) {
	n, err := readNetwork(tflite)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", spec.Name, err)
	}
	t, err := newTranslation(n, spec)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", spec.Name, err)
	}
	if err := t.run(); err != nil {
		return nil, fmt.Errorf("%s: %w", spec.Name, err)
	}
	return t.g.encode(spec.Name), nil
}

// value is a tensor while it is computed. A picture (rank 4) is held
// channels-first in the ONNX graph; shape always tells rows-first order.
type value struct {
	name  string
	shape []int
}

func (v value) picture() bool { return len(v.shape) == 4 }

// padding is what lies around a picture before it is convolved.
type padding struct{ top, left, bottom, right int }

// scaling is an enlargement of a picture: the further inputs and the options
// of Resize.
type scaling struct {
	rows, cols int // size after it
	inputs     []string
	options    []attribute
}

// translation turns steps into nodes one by one.
type translation struct {
	n      *network
	g      graph
	spec   Spec
	want   []int           // tensor of each of spec's outputs
	keep   []bool          // steps to translate
	reads  [][]int         // kept steps that read each tensor, and −1 for an output
	weight int             // weights written so far
	values map[int]value   // what each tensor is called in the graph
	padded map[int]padding // tensors whose padding waits for its convolutions
	scaled map[int]scaling // tensors whose enlargement waits for its convolution
	consts map[int][]float32
	made   []int
}

func newTranslation(n *network, spec Spec) (*translation, error) {
	t := &translation{n: n, spec: spec, values: map[int]value{}, padded: map[int]padding{},
		scaled: map[int]scaling{}, consts: map[int][]float32{}, reads: make([][]int, len(n.tensors)), made: n.producer()}
	if len(n.inputs) != 1 || !slices.Equal(n.tensors[n.inputs[0]].shape, spec.Shape) ||
		n.tensors[n.inputs[0]].kind != typeFloat32 || len(spec.Shape) != 4 {
		return nil, fmt.Errorf("its input is not one picture of %v single-precision numbers", spec.Shape)
	}
	for _, o := range spec.Outputs {
		k := slices.IndexFunc(n.outputs, func(i int) bool { return n.tensors[i].name == o.From })
		if k < 0 {
			return nil, fmt.Errorf("it has no output %q", o.From)
		}
		have, _ := elements(n.tensors[n.outputs[k]].shape)
		if asked, err := elements(o.Shape); err != nil || asked != have {
			return nil, fmt.Errorf("output %q has shape %v, wanted as %v", o.From, n.tensors[n.outputs[k]].shape, o.Shape)
		}
		t.want = append(t.want, n.outputs[k])
	}
	t.keep = n.needed(t.want)
	for k, o := range n.ops {
		if t.keep[k] {
			for _, i := range o.inputs {
				t.reads[i] = append(t.reads[i], k)
			}
		}
	}
	for _, i := range t.want {
		t.reads[i] = append(t.reads[i], -1)
	}
	return t, nil
}

// run translates the input, the kept steps in order, and the outputs.
func (t *translation) run() error {
	t.g.inputs = []port{{t.spec.Input, t.spec.Shape}}
	t.values[t.n.inputs[0]] = t.toPicture(t.spec.Input, t.spec.Shape)
	for k := range t.n.ops {
		if !t.keep[k] {
			continue
		}
		if err := t.step(k); err != nil {
			return fmt.Errorf("step %d (operator %d): %w", k, t.n.ops[k].code, err)
		}
	}
	for i, o := range t.spec.Outputs {
		v, err := t.value(t.want[i])
		if err != nil {
			return fmt.Errorf("output %q: %w", o.From, err)
		}
		t.g.add("Reshape", []string{t.toRows(v), t.g.ints(o.Shape...)}, o.As)
		t.g.outputs = append(t.g.outputs, port{o.As, o.Shape})
	}
	return nil
}

// value gives a tensor that has been computed.
func (t *translation) value(i int) (value, error) {
	v, ok := t.values[i]
	if !ok {
		return value{}, fmt.Errorf("%q is a constant or padding, which can't stand here", t.n.tensors[i].name)
	}
	return v, nil
}

// set makes node op give tensor i, applying the activation behind it.
func (t *translation) set(i int, op string, inputs []string, activation uint8, attrs ...attribute) error {
	name, err := t.activate(t.g.fresh(op, inputs, attrs...), activation)
	if err != nil {
		return err
	}
	t.values[i] = value{name, t.n.tensors[i].shape}
	return nil
}

// activate puts the activation (TFLite schema, ActivationFunctionType) behind
// the named value.
func (t *translation) activate(name string, activation uint8) (string, error) {
	switch activation {
	case 0:
		return name, nil
	case 1:
		return t.g.fresh("Relu", []string{name}), nil
	case 3:
		return t.g.fresh("Clip", []string{name, t.g.scalar(0), t.g.scalar(6)}), nil
	}
	return "", fmt.Errorf("activation %d is not known", activation)
}

// toRows gives v in rows-first order.
func (t *translation) toRows(v value) string {
	if !v.picture() || v.shape[3] == 1 || v.shape[1]*v.shape[2] == 1 {
		return v.name
	}
	return t.g.fresh("Transpose", []string{v.name}, intsOf("perm", 0, 2, 3, 1))
}

// toPicture gives the rows-first picture as a channels-first one.
func (t *translation) toPicture(name string, shape []int) value {
	return value{t.g.fresh("Transpose", []string{name}, intsOf("perm", 0, 3, 1, 2)), shape}
}

// constant gives the single-precision values of a constant, whether it is
// stored as such, in half precision, sparse, or both.
func (t *translation) constant(i int) ([]float32, error) {
	if c, ok := t.consts[i]; ok {
		return c, nil
	}
	ts := t.n.tensors[i]
	if ts.data == nil {
		k := t.made[i]
		if k < 0 || (t.n.ops[k].code != opDequantize && t.n.ops[k].code != opDensify) {
			return nil, fmt.Errorf("%q is not a constant", ts.name)
		}
		from := t.n.ops[k].inputs[0]
		if !slices.Equal(t.n.tensors[from].shape, ts.shape) {
			return nil, fmt.Errorf("%q changes its shape", ts.name)
		}
		c, err := t.constant(from)
		t.consts[i] = c
		return c, err
	}
	c, err := floats(ts)
	if err != nil {
		return nil, fmt.Errorf("%q: %w", ts.name, err)
	}
	t.consts[i] = c
	return c, nil
}

// integers gives the values of a 32-bit integer constant.
func (t *translation) integers(i int) ([]int, error) {
	ts := t.n.tensors[i]
	n, err := elements(ts.shape)
	if err != nil || ts.kind != typeInt32 || len(ts.data) != 4*n {
		return nil, fmt.Errorf("%q is not a constant of integers", ts.name)
	}
	f := flat{b: ts.data}
	out := make([]int, n)
	for k := range out {
		out[k] = int(f.i32(4 * k))
	}
	return out, nil
}
