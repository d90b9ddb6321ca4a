// Package legs holds our own network that finds the joints of a runner's legs
// in a picture; it takes nothing and gives its bytes to whoever opens
// networks. What it was taught, how well it does and what it can't is in
// MODEL.md beside it; training/legs makes it.
package legs

import (
	"crypto/sha256"
	_ "embed" // the network is part of the program
	"encoding/hex"
)

// Name is what the network is called.
const Name = "legs"

//go:embed legs.onnx
var model string

// Model gives the network as an ONNX file. Its input, "picture", is 1×5×224×224:
// red, green, blue in 0…1, then a map of first guesses for the near and one
// for the far leg. Its output, "points", is 1×12×3: near, then far leg; hip,
// knee, ankle, heel, ball, toe; x and y in pixels of the input, and the scale
// of a Laplace distribution of their error.
func Model() []byte { return []byte(model) }

// Hash is the SHA-256 of Model in hexadecimal digits.
func Hash() string {
	sum := sha256.Sum256([]byte(model))
	return hex.EncodeToString(sum[:])
}
