// Package convert takes networks as TFLite bytes from supply and gives the
// same networks as ONNX bytes to it, ready for package infer. It touches no
// files.
//
// What changes on the way: half-precision and sparse weights become dense
// single precision; pictures run channels-first inside (rows-first at the
// ends, as before); padding moves into the convolutions; a 1×1 convolution
// behind an enlargement moves before it, which gives the same values for a
// fraction of the work; outputs that nobody asks for go, and every step that
// only they need. The result depends on the input's bytes alone, so that it
// can be known by its hash.
package convert
