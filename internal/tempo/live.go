package tempo

import _ "embed" // live.js is part of the binary

// LiveJS is an ES module that plays a plan on a page, on Web Audio's clock.
// It has the schedule's arithmetic and the sounds of this package; tests
// compare both.
//
//go:embed live.js
var LiveJS string
