package cli

import (
	"context"
	"os"

	"plumbstride/internal/infer"
	"plumbstride/internal/supply"
)

// This file is the only place that builds things.

// finding is one line of what doctor found.
type finding = supply.Finding

// inspect looks at everything that a check needs from this machine, and
// tries whether the inference library can be loaded here.
func inspect() []finding {
	findings := supply.Inspect(os.Getenv)
	kit, _ := supply.Find(os.Getenv) // what it lacks is among the findings
	if kit.Runtime == "" {
		return findings
	}
	f := finding{Name: "library loads"}
	library, err := infer.Load(kit.Runtime)
	if err != nil {
		f.Detail, f.Fix = err.Error(), "Remove "+kit.Runtime+" and run: plumbstride setup"
		return append(findings, f)
	}
	defer library.Close()
	f.OK, f.Detail = true, "ONNX Runtime "+library.Version()
	return append(findings, f)
}

// setUp fetches, or takes from a folder, whatever is lacking.
func setUp(ctx context.Context, from string, p *progress) error {
	_, err := supply.Setup(ctx, supply.Options{
		From: from, Env: os.Getenv,
		Progress: func(step string, done, total int64) { p.tell(step, "bytes", int(done), int(total)) },
	})
	return err
}
