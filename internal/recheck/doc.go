// Package recheck takes two checks of one runner from package card and gives
// what changed between them, told from noise, to the command line, the pages
// and the paper: each measure's difference with its uncertainty and the
// smallest change that would have shown, the verdict on what was worked on,
// and whether it is learnt. Pure: no files, clock or randomness.
//
// Read it in this order: difference.go (the arithmetic), daytoday.go (how
// much people vary), speed.go and alike.go (what may be compared), change.go
// (one measure), learnt.go (the rule), planned.go (what was worked on),
// recheck.go (all of it).
package recheck
