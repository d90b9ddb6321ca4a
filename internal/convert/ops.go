package convert

import (
	"fmt"
	"slices"
)

// step translates one step of the TFLite graph.
func (t *translation) step(k int) error {
	o := t.n.ops[k]
	if want := inputsOf(o.code); want > 0 && len(o.inputs) < want {
		return fmt.Errorf("%d inputs where %d are needed", len(o.inputs), want)
	}
	switch o.code {
	case opDequantize, opDensify:
		return nil // read by constant where it is used
	case opPad:
		return t.pad(o)
	case opConv, opDepthwiseConv:
		return t.convolution(o)
	case opAdd:
		return t.sum(o)
	case opResize:
		return t.resize(o)
	case opMaxPool:
		return t.maxPool(o)
	case opReshape:
		return t.reshape(o)
	case opLogistic:
		return t.logistic(o)
	case opDepthToSpace:
		return t.depthToSpace(o)
	case opConcat:
		return t.concat(o)
	}
	return fmt.Errorf("the operator is not known")
}

// inputsOf is the least number of inputs of an operator.
func inputsOf(code int) int {
	switch code {
	case opPad, opAdd, opResize, opReshape:
		return 2
	case opConv, opDepthwiseConv:
		return 3
	}
	return 1
}

// picture gives a computed tensor of rank 4.
func (t *translation) picture(i int) (value, error) {
	v, err := t.value(i)
	if err == nil && !v.picture() {
		err = fmt.Errorf("%q has shape %v, not a picture's", t.n.tensors[i].name, v.shape)
	}
	return v, err
}

// shaped checks that the output of a step has the shape it must have.
func (t *translation) shaped(o operator, shape ...int) error {
	if got := t.n.tensors[o.outputs[0]].shape; !slices.Equal(got, shape) {
		return fmt.Errorf("%w: output %v, should be %v", errCorrupt, got, shape)
	}
	return nil
}

// pad holds zeros back for the convolutions behind it, if nothing else reads
// the result and they are at the sides of the picture; else it writes a node.
func (t *translation) pad(o operator) error {
	v, err := t.picture(o.inputs[0])
	if err != nil {
		return err
	}
	p, err := t.integers(o.inputs[1])
	if err != nil {
		return err
	}
	if len(p) != 8 || slices.ContainsFunc(p, func(n int) bool { return n < 0 || n > 1<<16 }) {
		return fmt.Errorf("padding %v", p)
	}
	shape := make([]int, 4)
	for d := range shape {
		shape[d] = v.shape[d] + p[2*d] + p[2*d+1]
	}
	if err := t.shaped(o, shape...); err != nil {
		return err
	}
	if out := o.outputs[0]; p[0]+p[1]+p[6]+p[7] == 0 && t.onlyConvolved(out) {
		t.values[out] = v
		t.padded[out] = padding{p[2], p[4], p[3], p[5]}
		return nil
	}
	pads := t.g.ints(p[0], p[6], p[2], p[4], p[1], p[7], p[3], p[5])
	return t.set(o.outputs[0], "Pad", []string{v.name, pads}, 0)
}

// onlyConvolved tells whether tensor i is read by nothing but convolutions
// that pad nothing themselves.
func (t *translation) onlyConvolved(i int) bool {
	for _, k := range t.reads[i] {
		if k < 0 {
			return false
		}
		o := t.n.ops[k]
		valid := (o.code == opConv || o.code == opDepthwiseConv) && o.given && o.options.u8(0, 0) == 1
		if !valid || o.inputs[0] != i {
			return false
		}
	}
	return len(t.reads[i]) > 0
}

// onlyMixed tells whether tensor i is read by one 1×1 convolution of stride 1
// and nothing else.
func (t *translation) onlyMixed(i int) bool {
	if len(t.reads[i]) != 1 || t.reads[i][0] < 0 {
		return false
	}
	o := t.n.ops[t.reads[i][0]]
	if o.code != opConv || o.inputs[0] != i || !o.given || len(o.inputs) < 2 {
		return false
	}
	shape := t.n.tensors[o.inputs[1]].shape
	return len(shape) == 4 && shape[1] == 1 && shape[2] == 1 && o.options.i32(1, 0) == 1 && o.options.i32(2, 0) == 1
}

// window is a sliding kernel.
type window struct {
	rows, cols           int
	strideY, strideX     int
	dilationY, dilationX int
	same                 bool
}

// around gives the padding and size of what the window leaves of a picture.
// With same, as many zeros are put around that ceil(size/stride) positions
// fit, the odd one at the end (TensorFlow, "SAME" padding).
func (w window) around(rows, cols int) (p padding, outRows, outCols int, err error) {
	for _, n := range []int{w.rows, w.cols, w.strideY, w.strideX, w.dilationY, w.dilationX} {
		if n < 1 || n > 1<<12 {
			return p, 0, 0, fmt.Errorf("%w: window %+v", errCorrupt, w)
		}
	}
	p.top, p.bottom, outRows = along(rows, w.rows, w.strideY, w.dilationY, w.same)
	p.left, p.right, outCols = along(cols, w.cols, w.strideX, w.dilationX, w.same)
	if outRows < 1 || outCols < 1 {
		return p, 0, 0, fmt.Errorf("%w: window %+v on %d×%d", errCorrupt, w, rows, cols)
	}
	return p, outRows, outCols, nil
}

func along(size, kernel, stride, dilation int, same bool) (before, after, out int) {
	reach := (kernel-1)*dilation + 1
	if !same {
		if size < reach {
			return 0, 0, 0
		}
		return 0, 0, (size-reach)/stride + 1
	}
	out = (size + stride - 1) / stride
	total := max(0, (out-1)*stride+reach-size)
	return total / 2, total - total/2, out
}

// attributes writes the window for Conv and MaxPool.
func (w window) attributes(p padding) []attribute {
	return []attribute{
		intsOf("kernel_shape", w.rows, w.cols),
		intsOf("strides", w.strideY, w.strideX),
		intsOf("dilations", w.dilationY, w.dilationX),
		intsOf("pads", p.top, p.left, p.bottom, p.right),
	}
}

// kernel is what a convolution multiplies with, in ONNX order: out, in of the
// group, rows, columns.
type kernel struct {
	window     window
	weights    []float32
	bias       []float32
	out, in    int // channels; in within one group
	groups     int
	activation uint8
}

// kernel reads a convolution's weights and options.
func (t *translation) kernel(o operator, channels int) (kernel, error) {
	var k kernel
	if !o.given {
		return k, fmt.Errorf("%w: a convolution without options", errCorrupt)
	}
	shape := t.n.tensors[o.inputs[1]].shape
	w, err := t.constant(o.inputs[1])
	if err != nil {
		return k, err
	}
	if k.bias, err = t.constant(o.inputs[2]); err != nil {
		return k, err
	}
	if len(shape) != 4 {
		return k, fmt.Errorf("%w: weights of shape %v", errCorrupt, shape)
	}
	if t.weight += len(w) + len(k.bias); t.weight > maxWeights {
		return k, fmt.Errorf("%w: more than %d weights", errCorrupt, maxWeights)
	}
	c := o.options
	k.window = window{rows: shape[1], cols: shape[2], strideX: int(c.i32(1, 0)), strideY: int(c.i32(2, 0)),
		same: c.u8(0, 0) == 0}
	if o.code == opConv {
		k.out, k.in, k.groups = shape[0], shape[3], 1
		k.activation = c.u8(3, 0)
		k.window.dilationX, k.window.dilationY = int(c.i32(4, 1)), int(c.i32(5, 1))
		k.weights = reorder(w, shape[0], shape[1]*shape[2], shape[3])
	} else {
		k.out, k.in, k.groups = shape[3], 1, channels
		k.activation = c.u8(4, 0)
		k.window.dilationX, k.window.dilationY = int(c.i32(5, 1)), int(c.i32(6, 1))
		k.weights = reorder(w, 1, shape[1]*shape[2], shape[3])
	}
	deep := o.code == opDepthwiseConv
	if k.in*k.groups != channels || k.out%k.groups != 0 || len(k.bias) != k.out || (deep && shape[0] != 1) {
		return k, fmt.Errorf("%w: weights %v and %d biases for %d channels", errCorrupt, shape, len(k.bias), channels)
	}
	return k, c.f.err
}

// reorder turns a×b×c into a×c×b.
func reorder(w []float32, a, b, c int) []float32 {
	out := make([]float32, len(w))
	for i := range a {
		for j := range b {
			for k := range c {
				out[(i*c+k)*b+j] = w[(i*b+j)*c+k]
			}
		}
	}
	return out
}

// convolution translates CONV_2D and DEPTHWISE_CONV_2D.
func (t *translation) convolution(o operator) error {
	v, err := t.picture(o.inputs[0])
	if err != nil {
		return err
	}
	k, err := t.kernel(o, v.shape[3])
	if err != nil {
		return err
	}
	held, scale := t.padded[o.inputs[0]], t.scaled[o.inputs[0]]
	p, rows, cols, err := k.window.around(v.shape[1]+held.top+held.bottom, v.shape[2]+held.left+held.right)
	if err != nil {
		return err
	}
	if scale.inputs != nil {
		rows, cols = scale.rows, scale.cols
	}
	if err := t.shaped(o, v.shape[0], rows, cols, k.out); err != nil {
		return err
	}
	if held != (padding{}) {
		p = held
	}
	name := t.g.fresh("Conv", []string{v.name,
		t.g.weights(k.weights, k.out, k.in, k.window.rows, k.window.cols), t.g.weights(k.bias, k.out)},
		append(k.window.attributes(p), intOf("group", k.groups))...)
	if scale.inputs != nil {
		name = t.g.fresh("Resize", append([]string{name}, scale.inputs...), scale.options...)
	}
	if name, err = t.activate(name, k.activation); err != nil {
		return err
	}
	t.values[o.outputs[0]] = value{name, t.n.tensors[o.outputs[0]].shape}
	return nil
}

// sum translates ADD of two values of one shape.
func (t *translation) sum(o operator) error {
	a, err := t.value(o.inputs[0])
	if err != nil {
		return err
	}
	b, err := t.value(o.inputs[1])
	if err != nil {
		return err
	}
	if !slices.Equal(a.shape, b.shape) {
		return fmt.Errorf("sum of %v and %v", a.shape, b.shape)
	}
	if err := t.shaped(o, a.shape...); err != nil {
		return err
	}
	var activation uint8
	if o.given {
		activation = o.options.u8(0, 0)
	}
	return t.set(o.outputs[0], "Add", []string{a.name, b.name}, activation)
}

// resize translates RESIZE_BILINEAR. An enlargement by whole numbers that one 1×1 convolution
// reads is held back until behind it: each new place is a mean of old ones with
// weights of sum 1, and a mean of places and a mix of channels with a bias can
// change their order.
func (t *translation) resize(o operator) error {
	v, err := t.picture(o.inputs[0])
	if err != nil {
		return err
	}
	size, err := t.integers(o.inputs[1])
	if err != nil {
		return err
	}
	if len(size) != 2 {
		return fmt.Errorf("new size %v", size)
	}
	if err := t.shaped(o, v.shape[0], size[0], size[1], v.shape[3]); err != nil {
		return err
	}
	mode := "asymmetric"
	switch {
	case !o.given:
	case o.options.u8(2, 0) == 1:
		mode = "align_corners"
	case o.options.u8(3, 0) == 1:
		mode = "half_pixel"
	}
	inputs := []string{"", t.g.list(1, 1, float32(size[0])/float32(v.shape[1]), float32(size[1])/float32(v.shape[2]))}
	whole := size[0]%v.shape[1] == 0 && size[1]%v.shape[2] == 0
	if !whole {
		inputs = []string{"", "", t.g.ints(v.shape[0], v.shape[3], size[0], size[1])}
	}
	options := []attribute{wordOf("mode", "linear"), wordOf("coordinate_transformation_mode", mode)}
	if out := o.outputs[0]; whole && t.onlyMixed(out) {
		t.values[out] = v
		t.scaled[out] = scaling{size[0], size[1], inputs, options}
		return nil
	}
	return t.set(o.outputs[0], "Resize", append([]string{v.name}, inputs...), 0, options...)
}

// maxPool translates MAX_POOL_2D.
func (t *translation) maxPool(o operator) error {
	v, err := t.picture(o.inputs[0])
	if err != nil {
		return err
	}
	if !o.given {
		return fmt.Errorf("%w: pooling without options", errCorrupt)
	}
	c := o.options
	w := window{strideX: int(c.i32(1, 0)), strideY: int(c.i32(2, 0)), cols: int(c.i32(3, 0)), rows: int(c.i32(4, 0)),
		dilationX: 1, dilationY: 1, same: c.u8(0, 0) == 0}
	p, rows, cols, err := w.around(v.shape[1], v.shape[2])
	if err != nil {
		return err
	}
	if err := t.shaped(o, v.shape[0], rows, cols, v.shape[3]); err != nil {
		return err
	}
	return t.set(o.outputs[0], "MaxPool", []string{v.name}, c.u8(5, 0), w.attributes(p)...)
}

// reshape translates RESHAPE; the new shape is the output's.
func (t *translation) reshape(o operator) error {
	v, err := t.value(o.inputs[0])
	if err != nil {
		return err
	}
	shape := t.n.tensors[o.outputs[0]].shape
	before, _ := elements(v.shape)
	if after, _ := elements(shape); after != before {
		return fmt.Errorf("%w: %v reshaped to %v", errCorrupt, v.shape, shape)
	}
	name := t.g.fresh("Reshape", []string{t.toRows(v), t.g.ints(shape...)})
	if len(shape) == 4 {
		t.values[o.outputs[0]] = t.toPicture(name, shape)
		return nil
	}
	t.values[o.outputs[0]] = value{name, shape}
	return nil
}

// logistic translates LOGISTIC: 1/(1+e^−x).
func (t *translation) logistic(o operator) error {
	v, err := t.value(o.inputs[0])
	if err != nil {
		return err
	}
	if err := t.shaped(o, v.shape...); err != nil {
		return err
	}
	return t.set(o.outputs[0], "Sigmoid", []string{v.name}, 0)
}

// depthToSpace translates DEPTH_TO_SPACE: channel (y·block + x)·n + c of a
// place becomes channel c at row y, column x of its block.
func (t *translation) depthToSpace(o operator) error {
	v, err := t.picture(o.inputs[0])
	if err != nil {
		return err
	}
	block := 0
	if o.given {
		block = int(o.options.i32(0, 0))
	}
	if block < 1 || block > 64 || v.shape[3]%(block*block) != 0 {
		return fmt.Errorf("%w: blocks of %d from %v", errCorrupt, block, v.shape)
	}
	if err := t.shaped(o, v.shape[0], v.shape[1]*block, v.shape[2]*block, v.shape[3]/(block*block)); err != nil {
		return err
	}
	return t.set(o.outputs[0], "DepthToSpace", []string{v.name}, 0, intOf("blocksize", block), wordOf("mode", "DCR"))
}

// concat translates CONCATENATION.
func (t *translation) concat(o operator) error {
	out := t.n.tensors[o.outputs[0]].shape
	axis := 0
	var activation uint8
	if o.given {
		axis, activation = int(o.options.i32(0, 0)), o.options.u8(1, 0)
	}
	if axis < 0 {
		axis += len(out)
	}
	if axis < 0 || axis >= len(out) {
		return fmt.Errorf("%w: axis %d of %v", errCorrupt, axis, out)
	}
	var names []string
	total := 0
	for _, i := range o.inputs {
		v, err := t.value(i)
		if err != nil {
			return err
		}
		if len(v.shape) != len(out) {
			return fmt.Errorf("%w: %v beside %v", errCorrupt, v.shape, out)
		}
		for d := range out {
			if d != axis && v.shape[d] != out[d] {
				return fmt.Errorf("%w: %v beside %v", errCorrupt, v.shape, out)
			}
		}
		total += v.shape[axis]
		names = append(names, v.name)
	}
	if total != out[axis] {
		return fmt.Errorf("%w: %d joined along axis %d of %v", errCorrupt, total, axis, out)
	}
	if len(out) == 4 {
		axis = []int{0, 2, 3, 1}[axis]
	}
	return t.set(o.outputs[0], "Concat", names, activation, intOf("axis", axis))
}
