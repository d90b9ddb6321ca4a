// Package accelerometry takes the recording of a body-worn accelerometer as
// text, and gives the gait (running or walking), the steps, and for running
// the time measures: cadence, contact and flight time, duty factor and step
// time asymmetry, each with its uncertainty, or the reason why not. Pure.
//
// Read it in this order: read.go (text to numbers), columns.go (which column
// is what), recording.go (units, clock, gaps), grid.go (an even clock, and
// which way is up), gait.go (where somebody runs or walks, and how fast the
// steps come), bearing.go (which way forward is), contact.go (how long a foot
// is down), measures.go.
package accelerometry
