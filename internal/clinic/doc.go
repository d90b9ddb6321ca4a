// Package clinic takes the courses of a clinic's runners from the records – the
// first check, what was worked on, and the later check where there is one –
// and gives without a name what changed among those who came back, how surely,
// and what can't be told, to those who show it.
package clinic
