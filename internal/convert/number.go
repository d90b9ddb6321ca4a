package convert

import (
	"encoding/binary"
	"fmt"
	"math"
)

// floats gives a constant in single precision, dense.
func floats(t tensor) ([]float32, error) {
	var stored []float32
	switch t.kind {
	case typeFloat32:
		stored = make([]float32, len(t.data)/4)
		for i := range stored {
			stored[i] = math.Float32frombits(binary.LittleEndian.Uint32(t.data[4*i:]))
		}
	case typeFloat16:
		stored = make([]float32, len(t.data)/2)
		for i := range stored {
			stored[i] = fromHalf(binary.LittleEndian.Uint16(t.data[2*i:]))
		}
	default:
		return nil, fmt.Errorf("weights of type %d are not known", t.kind)
	}
	if t.sparse != nil {
		return t.sparse.densify(stored, t.shape)
	}
	if n, err := elements(t.shape); err != nil || n != len(stored) {
		return nil, fmt.Errorf("%w: %d values for shape %v", errCorrupt, len(stored), t.shape)
	}
	return stored, nil
}

// fromHalf widens a half-precision number (IEEE 754 binary16): one bit of
// sign, five of exponent (bias 15), ten of fraction. Every one is exact in
// single precision.
func fromHalf(h uint16) float32 {
	sign, exponent, fraction := uint32(h>>15)<<31, uint32(h>>10)&31, uint32(h)&1023
	switch exponent {
	case 0: // zero and the numbers below 2^−14, which have no leading one
		v := float32(fraction) * (1.0 / (1 << 24))
		return math.Float32frombits(math.Float32bits(v) | sign)
	case 31: // infinities and what is not a number
		return math.Float32frombits(sign | 255<<23 | fraction<<13)
	}
	return math.Float32frombits(sign | (exponent+127-15)<<23 | fraction<<13)
}
