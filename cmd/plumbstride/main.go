// Command plumbstride takes a side-view clip of a runner from a phone and
// gives a form card: what can be measured, how surely, and the one thing to
// work on first.
package main

import (
	"context"
	"os"

	"plumbstride/internal/cli"
)

func main() {
	os.Exit(cli.Main(context.Background(), os.Args[1:], cli.Stdio{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}))
}
