// Package infer takes ONNX files and the inference library from supply, and
// pictures from pose, and gives the networks' outputs to pose.
//
// The library is ONNX Runtime's C interface, called without cgo so that the
// program builds and cross-builds with the Go tool alone. Its functions stand
// in a table (struct OrtApi) that only ever grows at the end; api.go lists the
// places used.
//
// A network is loaded once and can be run by several sessions at a time, each
// on its own thread with its own tensors; two sessions of one thread do more
// than one session of two threads.
package infer
