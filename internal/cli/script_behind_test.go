package cli

import (
	"bytes"
	"math/rand/v2"
	"os"

	"github.com/rogpeppe/go-internal/testscript"

	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// behind writes the track of the invented runner of runner.csv from behind.
func behind(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: behind FILE")
	}
	points, _, err := standin.Track(standin.DefaultRunner(), standin.BehindCamera(), 8, rand.New(rand.NewPCG(1, 2)))
	ts.Check(err)
	var b bytes.Buffer
	ts.Check(track.Write(&b, points))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o644))
}
