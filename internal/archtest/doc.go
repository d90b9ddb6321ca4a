// Package archtest takes the module's source from the disk and gives a
// failing test for every rule of the house that it breaks: who may import
// whom, what a pure package may touch, how long a function may be, and that
// every name for others is explained. The same import rules stand in
// .golangci.yml, and a test here holds the two alike.
package archtest
