// Package cli takes the words of one command from the person at the
// terminal, gives them to package check and to the leaves that write cards,
// and gives back text, files and an exit status. Each verb has its own file;
// wire.go is the only place that builds things.
package cli
