// Package tempo takes what a coach asks for (a cadence, a length, a pattern
// in plain words) from the command line or a page, and gives a plan, the
// exact sample at which each step sounds, and the audio itself, sample by
// sample. The same plan, as JSON, is played on a page by live.js.
//
// Cadence is in steps a minute, both feet counted. Durations are whole
// milliseconds and cadences whole thousandths, so that a schedule is integer
// arithmetic from end to end: nothing accumulates, and step k of an hour
// lies as exactly as the first.
package tempo
