package infer

import (
	"fmt"
	"sync"
	"unsafe"
)

// network is a loaded ONNX file, shared by the sessions that run it.
type network struct {
	lib     *Library
	handle  uintptr // OrtSession, whose Run may be called by many threads
	input   port
	outputs []port

	mu    sync.Mutex
	users int
}

// port is one input or output: single-precision numbers of a fixed shape.
type port struct {
	name  string
	shape []int64
	count int
}

// load has the library create a session with the given number of threads for
// one run.
func (l *Library) load(threads int, create func(options, handle uintptr) error) (*network, error) {
	options, err := l.options(threads)
	defer l.api.release(releaseSessionOptions, options)
	if err != nil {
		return nil, err
	}
	n := &network{lib: l, users: 1}
	if err := create(options, uintptr(unsafe.Pointer(&n.handle))); err != nil {
		return nil, err
	}
	if err := n.readPorts(); err != nil {
		l.api.release(releaseSession, n.handle)
		return nil, err
	}
	return n, nil
}

// options asks for every graph optimisation, steps one after the other, and
// threads that sleep rather than spin when there is nothing to do. The caller
// frees what it gets, even beside an error.
func (l *Library) options(threads int) (uintptr, error) {
	var o uintptr
	if err := l.api.call(createSessionOptions, uintptr(unsafe.Pointer(&o))); err != nil {
		return 0, err
	}
	settings := []struct {
		f     entry
		value int
	}{
		{setIntraOpNumThreads, max(1, threads)},
		{setInterOpNumThreads, 1},
		{setSessionExecutionMode, sequential},
		{setGraphOptimizationLevel, optimizeAll},
	}
	for _, s := range settings {
		if err := l.api.call(s.f, o, uintptr(s.value)); err != nil {
			return o, err
		}
	}
	key, off := cString("session.intra_op.allow_spinning"), cString("0")
	return o, l.api.call(addSessionConfigEntry, o, uintptr(unsafe.Pointer(&key[0])), uintptr(unsafe.Pointer(&off[0])))
}

// readPorts asks for names and shapes.
func (n *network) readPorts() error {
	inputs, err := n.ports(sessionGetInputCount, sessionGetInputName, sessionGetInputTypeInfo)
	if err != nil {
		return fmt.Errorf("its input: %w", err)
	}
	if len(inputs) != 1 {
		return fmt.Errorf("it has %d inputs where one is expected", len(inputs))
	}
	n.input = inputs[0]
	if n.outputs, err = n.ports(sessionGetOutputCount, sessionGetOutputName, sessionGetOutputTypeInfo); err != nil {
		return fmt.Errorf("its outputs: %w", err)
	}
	return nil
}

func (n *network) ports(count, name, info entry) ([]port, error) {
	var many uintptr
	if err := n.lib.api.call(count, n.handle, uintptr(unsafe.Pointer(&many))); err != nil {
		return nil, err
	}
	if many > largestPortCount {
		return nil, fmt.Errorf("%d of them are too many", many)
	}
	out := make([]port, many)
	for i := range out {
		var err error
		if out[i].name, err = n.portName(name, i); err != nil {
			return nil, err
		}
		if out[i].shape, err = n.portShape(info, i); err != nil {
			return nil, fmt.Errorf("%q: %w", out[i].name, err)
		}
		out[i].count = 1
		for _, d := range out[i].shape {
			if d < 1 || d > int64(largestTensor/out[i].count) {
				return nil, fmt.Errorf("%q has shape %v", out[i].name, out[i].shape)
			}
			out[i].count *= int(d)
		}
	}
	return out, nil
}

func (n *network) portName(f entry, i int) (string, error) {
	api := n.lib.api
	var allocator, text uintptr
	if err := api.call(getDefaultAllocator, uintptr(unsafe.Pointer(&allocator))); err != nil {
		return "", err
	}
	if err := api.call(f, n.handle, uintptr(i), allocator, uintptr(unsafe.Pointer(&text))); err != nil {
		return "", err
	}
	name := goString(text, longestName)
	return name, api.call(allocatorFree, allocator, text)
}

func (n *network) portShape(f entry, i int) ([]int64, error) {
	api := n.lib.api
	var info, tensor, rank uintptr
	var kind int32
	if err := api.call(f, n.handle, uintptr(i), uintptr(unsafe.Pointer(&info))); err != nil {
		return nil, err
	}
	defer api.release(releaseTypeInfo, info)
	if err := api.call(castTypeInfoToTensorInfo, info, uintptr(unsafe.Pointer(&tensor))); err != nil {
		return nil, err
	}
	if tensor == 0 {
		return nil, fmt.Errorf("it is no tensor")
	}
	if err := api.call(getTensorElementType, tensor, uintptr(unsafe.Pointer(&kind))); err != nil {
		return nil, err
	}
	if kind != elementFloat {
		return nil, fmt.Errorf("its elements have type %d, not single precision", kind)
	}
	if err := api.call(getDimensionsCount, tensor, uintptr(unsafe.Pointer(&rank))); err != nil {
		return nil, err
	}
	if rank == 0 {
		return nil, nil
	}
	if rank > largestRank {
		return nil, fmt.Errorf("it has %d dimensions", rank)
	}
	shape := make([]int64, rank)
	return shape, api.call(getDimensions, tensor, uintptr(unsafe.Pointer(&shape[0])), rank)
}

// share counts one more user.
func (n *network) share() {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.users++
}

// leave counts one user less, and frees the network after the last.
func (n *network) leave() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.users--; n.users == 0 {
		n.lib.api.release(releaseSession, n.handle)
		n.handle = 0
	}
}
