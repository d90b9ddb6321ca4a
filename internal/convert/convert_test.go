package convert_test

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/convert"
	"plumbstride/internal/infer"
	"plumbstride/internal/supply"
)

func float32Bytes(v []float32) []byte {
	var b []byte
	for _, e := range v {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(e))
	}
	return b
}

// Operator numbers (TFLite schema, BuiltinOperator), written out again so that
// the test doesn't repeat a mistake of the package.
const (
	add, concat, conv, depthwise, depthToSpace, dequantize = 0, 2, 3, 4, 5, 6
	logistic, maxPool, reshape, resize, pad, densify       = 14, 17, 22, 23, 34, 124
)

// Field numbers of options: padding, stride_w, stride_h, then as named.
func convOptions(valid, stride, activation int32) fields {
	return fields{0: valid, 1: stride, 2: stride, 3: activation, 4: int32(1), 5: int32(1)}
}

func depthwiseOptions(valid, stride, activation int32) fields {
	return fields{0: valid, 1: stride, 2: stride, 3: int32(1), 4: activation, 5: int32(1), 6: int32(1)}
}

// ramp is 0, 1, 2, …
func ramp(n int) []float32 {
	out := make([]float32, n)
	for i := range out {
		out[i] = float32(i)
	}
	return out
}

// small is a network of few steps with a picture and what it must give,
// computed by hand.
type small struct {
	name  string
	shape []int // of the picture
	image []float32
	out   []int // shape of the output
	build func(m *model, in int32) (out int32)
	want  []float32
}

func smalls() []small {
	return []small{
		{
			// Stride 2 on 4×4 with a 3×3 kernel: one row and column of
			// zeros, at the end. Sums of the ramp plus the bias 1.
			"convolution, same", []int{1, 4, 4, 1}, ramp(16), []int{2, 2},
			func(m *model, in int32) int32 {
				w := m.singles([]int32{1, 3, 3, 1}, 1, 1, 1, 1, 1, 1, 1, 1, 1)
				out := m.value("out", 1, 2, 2, 1)
				m.step(conv, convOptions(0, 2, 0), out, in, w, m.singles([]int32{1}, 1))
				return out
			}, []float32{46, 40, 67, 51},
		},
		{
			// Output channels first, input channels last in the weights:
			// channel 0 is a − 10b, channel 1 is 100a; below 0 is cut off.
			"convolution, channels and relu", []int{1, 1, 2, 2}, []float32{30, 2, 1, 5}, []int{1, 2, 2},
			func(m *model, in int32) int32 {
				w := m.singles([]int32{2, 1, 1, 2}, 1, -10, 100, 0)
				out := m.value("out", 1, 1, 2, 2)
				m.step(conv, convOptions(1, 1, 1), out, in, w, m.singles([]int32{2}, 0, 0))
				return out
			}, []float32{10, 3000, 0, 100},
		},
		{
			// Dilation 2: taps at columns 0 and 2; valid leaves 2 of 4.
			"convolution, dilated", []int{1, 1, 4, 1}, []float32{1, 10, 100, 1000}, []int{2},
			func(m *model, in int32) int32 {
				w := m.singles([]int32{1, 1, 2, 1}, 1, 2)
				out := m.value("out", 1, 1, 2, 1)
				o := convOptions(1, 1, 0)
				o[4] = int32(2)
				m.step(conv, o, out, in, w, m.singles([]int32{1}, 0))
				return out
			}, []float32{201, 2010},
		},
		{
			// One kernel a channel: the mean of three columns of a, and twice b;
			// cut to [0, 6]. The border counts as zero.
			"depthwise convolution and relu6", []int{1, 1, 3, 2}, []float32{3, 1, 6, 2, 9, 4}, []int{3, 2},
			func(m *model, in int32) int32 {
				third := float32(1) / 3
				w := m.singles([]int32{1, 1, 3, 2}, third, 0, third, 2, third, 0)
				out := m.value("out", 1, 1, 3, 2)
				m.step(depthwise, depthwiseOptions(0, 1, 3), out, in, w, m.singles([]int32{2}, 0, 0))
				return out
			}, []float32{3, 2, 6, 4, 5, 6},
		},
		{
			// Two outputs of each of two channels: a, 2a, 3b, 4b.
			"depthwise convolution, multiplied", []int{1, 1, 1, 2}, []float32{1, 10}, []int{4},
			func(m *model, in int32) int32 {
				w := m.singles([]int32{1, 1, 1, 4}, 1, 2, 3, 4)
				out := m.value("out", 1, 1, 1, 4)
				o := depthwiseOptions(1, 1, 0)
				o[3] = int32(2)
				m.step(depthwise, o, out, in, w, m.singles([]int32{4}, 0, 0, 0, 0))
				return out
			}, []float32{1, 2, 30, 40},
		},
		{
			// One row above, two columns to the right, held for the kernel.
			"padding before a convolution", []int{1, 1, 2, 1}, []float32{1, 2}, []int{1, 3},
			func(m *model, in int32) int32 {
				p := m.value("padded", 1, 2, 4, 1)
				m.step(pad, fields{}, p, in, m.integers([]int32{4, 2}, 0, 0, 1, 0, 0, 2, 0, 0))
				out := m.value("out", 1, 1, 3, 1)
				w := m.singles([]int32{1, 2, 2, 1}, 1000, 100, 10, 1)
				m.step(conv, convOptions(1, 1, 0), out, p, w, m.singles([]int32{1}, 0))
				return out
			}, []float32{12, 20, 0},
		},
		{
			"padding of channels", []int{1, 1, 2, 1}, []float32{5, 7}, []int{2, 3},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 1, 2, 3)
				m.step(pad, fields{}, out, in, m.integers([]int32{4, 2}, 0, 0, 0, 0, 0, 0, 1, 1))
				return out
			}, []float32{0, 5, 0, 0, 7, 0},
		},
		{
			"sum and relu", []int{1, 1, 3, 1}, []float32{-2, 1, 3}, []int{3},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 1, 3, 1)
				m.step(add, fields{0: int32(1)}, out, in, in)
				return out
			}, []float32{0, 2, 6},
		},
		{
			// Half-pixel centres: new columns lie at −¼, ¼, ¾ and 1¼ of the old.
			"enlargement, half-pixel", []int{1, 2, 2, 1}, []float32{0, 1, 2, 3}, []int{4, 4},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 4, 4, 1)
				m.step(resize, fields{2: int32(0), 3: int32(1)}, out, in, m.integers([]int32{2}, 4, 4))
				return out
			}, []float32{0, 0.25, 0.75, 1, 0.5, 0.75, 1.25, 1.5, 1.5, 1.75, 2.25, 2.5, 2, 2.25, 2.75, 3},
		},
		{
			"enlargement, corners aligned, not whole", []int{1, 1, 2, 1}, []float32{0, 1}, []int{3},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 1, 3, 1)
				m.step(resize, fields{2: int32(1), 3: int32(0)}, out, in, m.integers([]int32{2}, 1, 3))
				return out
			}, []float32{0, 0.5, 1},
		},
		{
			// Enlarged columns 0, ¼, ¾, 1 of (a, b) = (0, 8) and (4, 0); then
			// a + b/2 + 1, cut to [0, 6]. The order is changed inside.
			"enlargement before a 1×1 convolution", []int{1, 1, 2, 2}, []float32{0, 8, 4, 0}, []int{4},
			func(m *model, in int32) int32 {
				big := m.value("big", 1, 1, 4, 2)
				m.step(resize, fields{2: int32(0), 3: int32(1)}, big, in, m.integers([]int32{2}, 1, 4))
				out := m.value("out", 1, 1, 4, 1)
				w := m.singles([]int32{1, 1, 1, 2}, 1.5, 0.5)
				m.step(conv, convOptions(0, 1, 3), out, big, w, m.singles([]int32{1}, 1))
				return out
			}, []float32{5, 5.5, 6, 6},
		},
		{
			// 2×2, stride 2 on 3×3: the last row and column stand alone.
			"largest of a window, same", []int{1, 3, 3, 1}, []float32{-1, -2, -3, -4, -5, -6, -7, -8, -9}, []int{2, 2},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 2, 2, 1)
				m.step(maxPool, fields{0: int32(0), 1: int32(2), 2: int32(2), 3: int32(2), 4: int32(2)}, out, in)
				return out
			}, []float32{-1, -3, -7, -9},
		},
		{
			"new shape keeps rows-first order", []int{1, 2, 2, 2}, ramp(8), []int{4, 2},
			func(m *model, in int32) int32 {
				flat := m.value("flat", 1, 8)
				m.step(reshape, nil, flat, in, m.integers([]int32{2}, 1, 8))
				back := m.value("back", 1, 1, 4, 2)
				m.step(reshape, nil, back, flat, m.integers([]int32{4}, 1, 1, 4, 2))
				return back
			}, ramp(8),
		},
		{
			"logistic", []int{1, 1, 1, 3}, []float32{0, 1, -1}, []int{3},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 1, 1, 3)
				m.step(logistic, nil, out, in)
				return out
			}, []float32{0.5, float32(1 / (1 + math.Exp(-1))), float32(1 / (1 + math.E))},
		},
		{
			// Channels go to the rows and columns of a block in reading order,
			// the colours of one place together.
			"depth to space", []int{1, 1, 1, 8}, ramp(8), []int{2, 2, 2},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 2, 2, 2)
				m.step(depthToSpace, fields{0: int32(2)}, out, in)
				return out
			}, ramp(8),
		},
		{
			"joined by channel", []int{1, 1, 2, 1}, []float32{1, 2}, []int{2, 2},
			func(m *model, in int32) int32 {
				out := m.value("out", 1, 1, 2, 2)
				m.step(concat, fields{0: int32(3)}, out, in, in)
				return out
			}, []float32{1, 1, 2, 2},
		},
		{
			"joined by row, in rows-first order", []int{1, 1, 2, 2}, []float32{1, 2, 3, 4}, []int{4, 2},
			func(m *model, in int32) int32 {
				a, b := m.value("a", 1, 2, 2), m.value("b", 1, 2, 2)
				m.step(reshape, nil, a, in, m.integers([]int32{3}, 1, 2, 2))
				m.step(reshape, nil, b, in, m.integers([]int32{3}, 1, 2, 2))
				out := m.value("out", 1, 4, 2)
				m.step(concat, fields{0: int32(-2)}, out, a, b)
				return out
			}, []float32{1, 2, 3, 4, 1, 2, 3, 4},
		},
		{
			// Half precision (IEEE 754 binary16): 0x3E00 is 1.5, 0xC000 is −2.
			"weights in half precision", []int{1, 1, 1, 2}, []float32{1, 10}, []int{1},
			func(m *model, in int32) int32 {
				half := m.tensor("half", 1, []byte{0x00, 0x3E, 0x00, 0xC0}, 1, 1, 1, 2)
				w := m.value("w", 1, 1, 1, 2)
				m.step(dequantize, nil, w, half)
				out := m.value("out", 1, 1, 1, 1)
				m.step(conv, convOptions(0, 1, 0), out, in, w, m.singles([]int32{1}, 0))
				return out
			}, []float32{-18.5},
		},
		{
			// Two rows of four with 5 and 7 at columns 1 and 3 of row 0, and 9
			// at column 0 of row 1.
			"sparse weights", []int{1, 1, 1, 4}, []float32{1, 10, 100, 1000}, []int{2},
			func(m *model, in int32) int32 {
				stored := m.tensor("sparse", 0, float32Bytes([]float32{5, 7, 9}), 2, 1, 1, 4)
				m.tensors[stored][6] = fields{0: []int32{0, 1, 2, 3}, 2: []fields{
					{0: int32(0), 1: int32(2)}, {0: int32(0), 1: int32(1)}, {0: int32(0), 1: int32(1)},
					{0: int32(1), 2: int32(1), 3: fields{0: []int32{0, 2, 3}}, 4: int32(3), 5: fields{0: []byte{1, 3, 0}}},
				}}
				w := m.value("w", 2, 1, 1, 4)
				m.step(densify, nil, w, stored)
				out := m.value("out", 1, 1, 1, 2)
				m.step(conv, convOptions(0, 1, 0), out, in, w, m.singles([]int32{2}, 0, 0))
				return out
			}, []float32{7050, 9},
		},
		{
			// Blocks of two columns: block 1 of row 0 is (5, 7), block 0 of row
			// 1 is (9, 0).
			"block-sparse weights", []int{1, 1, 1, 4}, []float32{1, 10, 100, 1000}, []int{2},
			func(m *model, in int32) int32 {
				stored := m.tensor("blocks", 0, float32Bytes([]float32{5, 7, 9, 0}), 2, 1, 1, 4)
				m.tensors[stored][6] = fields{0: []int32{0, 1, 2, 3, 4}, 1: []int32{3}, 2: []fields{
					{0: int32(0), 1: int32(2)}, {0: int32(0), 1: int32(1)}, {0: int32(0), 1: int32(1)},
					{0: int32(1), 2: int32(1), 3: fields{0: []int32{0, 1, 2}}, 4: int32(3), 5: fields{0: []byte{1, 0}}},
					{0: int32(0), 1: int32(2)},
				}}
				w := m.value("w", 2, 1, 1, 4)
				m.step(densify, nil, w, stored)
				out := m.value("out", 1, 1, 1, 2)
				m.step(conv, convOptions(0, 1, 0), out, in, w, m.singles([]int32{2}, 0, 0))
				return out
			}, []float32{7500, 9},
		},
	}
}

// file builds the network and what is kept of it.
func (s small) file() ([]byte, convert.Spec) {
	m := &model{}
	var shape []int32
	for _, d := range s.shape {
		shape = append(shape, int32(d))
	}
	in := m.value("in", shape...)
	out := s.build(m, in)
	m.tensors[out][3] = "result"
	return m.file(in, out), convert.Spec{Name: "small", Input: "image", Shape: s.shape,
		Outputs: []convert.Output{{From: "result", As: "y", Shape: s.out}}}
}

// TestOperators converts each small network, runs it, and compares with what
// was computed by hand from the operator's definition.
func TestOperators(t *testing.T) {
	kit, err := supply.Find(os.Getenv)
	if kit.Runtime == "" {
		if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	lib, err := infer.Load(kit.Runtime)
	if err != nil {
		t.Fatal(err)
	}
	defer lib.Close()
	for _, s := range smalls() {
		t.Run(s.name, func(t *testing.T) {
			file, spec := s.file()
			onnx, err := convert.ONNX(file, spec)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "small.onnx")
			if err := os.WriteFile(path, onnx, 0o644); err != nil {
				t.Fatal(err)
			}
			session, err := lib.Open(path, 1)
			if err != nil {
				t.Fatal(err)
			}
			defer session.Close()
			out, err := session.Run(s.image)
			if err != nil {
				t.Fatal(err)
			}
			got := out["y"]
			if len(got) != len(s.want) {
				t.Fatalf("%d numbers, want %d", len(got), len(s.want))
			}
			for i := range got {
				if math.Abs(float64(got[i]-s.want[i])) > 1e-4*max(1, math.Abs(float64(s.want[i]))) {
					t.Fatalf("got %v, want %v", got, s.want)
				}
			}
		})
	}
}

// TestDamagedFiles cuts and changes every small network at every place: each
// must be refused or converted, never panic.
func TestDamagedFiles(t *testing.T) {
	for _, s := range smalls() {
		file, spec := s.file()
		for n := range file {
			if _, err := convert.ONNX(file[:n], spec); err == nil && n < len(file)-8 {
				t.Errorf("%s: cut to %d of %d bytes it still converts", s.name, n, len(file))
			}
			for _, v := range []byte{0, 1, 0x7F, 0x80, 0xFF} {
				changed := append([]byte{}, file...)
				changed[n] = v
				convert.ONNX(changed, spec)
			}
		}
	}
}

// TestRefusals names what is wrong.
func TestRefusals(t *testing.T) {
	file, spec := smalls()[0].file()
	other := func(change func(*convert.Spec)) convert.Spec {
		s := spec
		s.Outputs = append([]convert.Output{}, spec.Outputs...)
		change(&s)
		return s
	}
	for _, c := range []struct {
		name string
		file []byte
		spec convert.Spec
		want string
	}{
		{"empty", nil, spec, "TFL3"},
		{"a web page", []byte("<!doctype html><title>not found</title>"), spec, "TFL3"},
		{"another input", file, other(func(s *convert.Spec) { s.Shape = []int{1, 8, 8, 1} }), "input"},
		{"no such output", file, other(func(s *convert.Spec) { s.Outputs[0].From = "none" }), "no output"},
		{"another size", file, other(func(s *convert.Spec) { s.Outputs[0].Shape = []int{5} }), "shape"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := convert.ONNX(c.file, c.spec)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
	m := &model{}
	in, out := m.value("in", 1, 1, 1, 1), m.value("result", 1, 1, 1, 1)
	m.step(99, nil, out, in)
	s := convert.Spec{Name: "n", Input: "image", Shape: []int{1, 1, 1, 1},
		Outputs: []convert.Output{{From: "result", As: "y", Shape: []int{1}}}}
	if _, err := convert.ONNX(m.file(in, out), s); err == nil || !strings.Contains(err.Error(), "operator 99") {
		t.Errorf("an operator that is not known: %v", err)
	}
}

// FuzzONNX looks for bytes that panic, or that convert differently twice.
func FuzzONNX(f *testing.F) {
	for _, s := range smalls() {
		file, _ := s.file()
		f.Add(file, s.shape[1], s.shape[2], s.shape[3])
	}
	f.Fuzz(func(t *testing.T, file []byte, rows, cols, channels int) {
		if rows < 1 || cols < 1 || channels < 1 || max(rows, cols, channels) > 64 {
			return
		}
		spec := convert.Spec{Name: "fuzz", Input: "image", Shape: []int{1, rows, cols, channels},
			Outputs: []convert.Output{{From: "result", As: "y", Shape: []int{4}}}}
		for _, n := range []int{1, 2, 3, 4, 8, 16} {
			spec.Outputs[0].Shape = []int{n}
			first, err := convert.ONNX(file, spec)
			if err != nil {
				continue
			}
			if again, err := convert.ONNX(file, spec); err != nil || string(again) != string(first) {
				t.Fatal("the second conversion differs")
			}
		}
	})
}

// BenchmarkONNX converts a network of one large convolution.
func BenchmarkONNX(b *testing.B) {
	m := &model{}
	in, out := m.value("in", 1, 8, 8, 512), m.value("result", 1, 8, 8, 512)
	m.step(conv, convOptions(0, 1, 3), out, in, m.singles([]int32{512, 3, 3, 512}, make([]float32, 512*9*512)...),
		m.singles([]int32{512}, make([]float32, 512)...))
	file := m.file(in, out)
	spec := convert.Spec{Name: "large", Input: "image", Shape: []int{1, 8, 8, 512},
		Outputs: []convert.Output{{From: "result", As: "y", Shape: []int{8, 8, 512}}}}
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		if _, err := convert.ONNX(file, spec); err != nil {
			b.Fatal(err)
		}
	}
}
