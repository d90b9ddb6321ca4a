// Package roster takes what coach and runner said about classes, people and
// consent from the pages and the command line, and gives it back cleaned and
// judged to the store and to whoever asks: who a class is made of, whether a
// runner may be filmed, how long a clip may be kept, and who may see what.
// It also reads and writes a roster as CSV. It holds no clock: the moment is
// always passed in.
package roster
