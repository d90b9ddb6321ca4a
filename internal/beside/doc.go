// Package beside takes two runs of one runner, each a check's card, its track
// and the pictures of one stride, and gives a picture of both at the same
// phases, at the same scale, side by side and over one another, to the paper,
// the pages and the command line. Pure: no files, clock or randomness.
package beside
