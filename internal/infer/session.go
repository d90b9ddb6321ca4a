package infer

import (
	"errors"
	"fmt"
	"runtime"
	"unsafe"
)

// Session runs one network, one picture at a time. It is not for concurrent
// use; Share gives a second one for a second thread.
type Session struct {
	net    *network
	file   string
	input  []float32
	output map[string][]float32

	// What Run hands to the library; all of it is pinned until Close.
	pin                     runtime.Pinner
	inputName, inputValue   []uintptr
	outputNames, outputVals []uintptr
	closed                  bool
}

// Open loads the ONNX file, which has one input and takes and gives single
// precision of fixed shapes. threads is the number of threads for one run;
// less than 1 means 1.
func (l *Library) Open(modelPath string, threads int) (*Session, error) {
	file, err := pathString(modelPath)
	if err != nil {
		return nil, fmt.Errorf("network %s: %w", modelPath, err)
	}
	return l.open(modelPath, threads, func(options, handle uintptr) error {
		return l.api.call(createSession, l.env, uintptr(unsafe.Pointer(&file[0])), options, handle)
	})
}

// OpenModel is Open for an ONNX file in memory; name is for messages.
func (l *Library) OpenModel(name string, model []byte, threads int) (*Session, error) {
	if len(model) == 0 {
		return nil, fmt.Errorf("network %s: it is empty", name)
	}
	s, err := l.open(name, threads, func(options, handle uintptr) error {
		return l.api.call(createSessionFromArray, l.env, uintptr(unsafe.Pointer(&model[0])), uintptr(len(model)), options, handle)
	})
	runtime.KeepAlive(model)
	return s, err
}

func (l *Library) open(name string, threads int, create func(options, handle uintptr) error) (*Session, error) {
	n, err := l.load(threads, create)
	if err != nil {
		return nil, fmt.Errorf("network %s: %w", name, err)
	}
	s, err := newSession(n, name)
	if err != nil {
		n.leave()
		return nil, err
	}
	return s, nil
}

// Share gives another session on the same loaded network, with its own
// tensors. Both can run at the same time; each is closed on its own.
func (s *Session) Share() (*Session, error) {
	if s.closed {
		return nil, fmt.Errorf("network %s: the session is closed", s.file)
	}
	s.net.share()
	other, err := newSession(s.net, s.file)
	if err != nil {
		s.net.leave()
		return nil, err
	}
	return other, nil
}

func newSession(n *network, file string) (*Session, error) {
	s := &Session{net: n, file: file, input: make([]float32, n.input.count),
		output:    make(map[string][]float32, len(n.outputs)),
		inputName: make([]uintptr, 1), inputValue: make([]uintptr, 1),
		outputNames: make([]uintptr, len(n.outputs)), outputVals: make([]uintptr, len(n.outputs))}
	s.pin.Pin(&s.inputName[0])
	s.pin.Pin(&s.inputValue[0])
	s.pin.Pin(&s.outputNames[0])
	s.pin.Pin(&s.outputVals[0])
	if err := s.tensors(); err != nil {
		s.free()
		return nil, fmt.Errorf("network %s: set up its tensors: %w", file, err)
	}
	return s, nil
}

// tensors makes the input and output tensors over Go memory.
func (s *Session) tensors() error {
	api := s.net.lib.api
	var place uintptr
	if err := api.call(createCPUMemoryInfo, arenaAllocator, memoryDefault, uintptr(unsafe.Pointer(&place))); err != nil {
		return err
	}
	defer api.release(releaseMemoryInfo, place)
	s.inputName[0] = s.text(s.net.input.name)
	var err error
	if s.inputValue[0], err = s.tensor(place, s.net.input, s.input); err != nil {
		return err
	}
	for i, p := range s.net.outputs {
		data := make([]float32, p.count)
		s.output[p.name] = data
		s.outputNames[i] = s.text(p.name)
		if s.outputVals[i], err = s.tensor(place, p, data); err != nil {
			return err
		}
	}
	return nil
}

// text pins a C string and gives its address.
func (s *Session) text(v string) uintptr {
	b := cString(v)
	s.pin.Pin(&b[0])
	return uintptr(unsafe.Pointer(&b[0]))
}

// tensor makes an OrtValue over data, which is pinned.
func (s *Session) tensor(place uintptr, p port, data []float32) (uintptr, error) {
	s.pin.Pin(&data[0])
	shape := append([]int64{}, p.shape...)
	shape = append(shape, 0) // so that it has an address even for rank 0
	var v uintptr
	err := s.net.lib.api.call(createTensorWithDataAsOrtValue, place, uintptr(unsafe.Pointer(&data[0])),
		uintptr(4*len(data)), uintptr(unsafe.Pointer(&shape[0])), uintptr(len(p.shape)), elementFloat,
		uintptr(unsafe.Pointer(&v)))
	return v, err
}

// Input is the input tensor's memory: who writes the picture straight into it
// and passes it to Run saves a copy.
func (s *Session) Input() []float32 { return s.input }

// Run runs the network on a picture, whose numbers are in the order of the
// input's shape, and gives the named outputs. The map and the slices are valid
// until the next Run or Close.
func (s *Session) Run(image []float32) (map[string][]float32, error) {
	if s.closed {
		return nil, fmt.Errorf("network %s: the session is closed", s.file)
	}
	if len(image) != len(s.input) {
		return nil, fmt.Errorf("network %s: a picture of %d numbers where %d are wanted", s.file, len(image), len(s.input))
	}
	if &image[0] != &s.input[0] {
		copy(s.input, image)
	}
	err := s.net.lib.api.call(run, s.net.handle, 0,
		uintptr(unsafe.Pointer(&s.inputName[0])), uintptr(unsafe.Pointer(&s.inputValue[0])), 1,
		uintptr(unsafe.Pointer(&s.outputNames[0])), uintptr(len(s.outputNames)), uintptr(unsafe.Pointer(&s.outputVals[0])))
	if err != nil {
		return nil, fmt.Errorf("network %s: run it: %w", s.file, err)
	}
	return s.output, nil
}

// Close frees the tensors, and the network with its last session.
func (s *Session) Close() error {
	if s.closed {
		return errors.New("infer: the session is closed already")
	}
	s.free()
	s.net.leave()
	return nil
}

func (s *Session) free() {
	s.closed = true
	for _, v := range append(s.outputVals, s.inputValue...) {
		s.net.lib.api.release(releaseValue, v)
	}
	s.pin.Unpin()
}
