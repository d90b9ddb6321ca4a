// Package explain takes the tables of measures from packages measure, judge
// and accelerometry, gives for each measure what it is, how it is worked out,
// what it needs, how sure it typically is, its band, and what it can't tell,
// to the command line and the documentation. Pure: what it adds to the tables
// is words.go and typical.json, which TestTypical -update makes.
package explain
