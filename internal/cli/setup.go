package cli

import "fmt"

// setupVerb puts the networks and the inference library in place.
type setupVerb struct {
	From string `placeholder:"FOLDER" type:"path" help:"Take the packages from this folder, on a machine without a network."`
}

// Help stands below the verb's first line in its help.
func (setupVerb) Help() string {
	return "Fetches the networks and the inference library once, by name and version, through npm; checks every file against a known hash; and keeps them in your cache folder, or in the folders named by PLUMBSTRIDE_MODELS and PLUMBSTRIDE_RUNTIME. What is there already is left alone.\n\n" + exitCodes
}

// Run sets the machine up.
func (v *setupVerb) Run(e *errand) error {
	p := newProgress(e.Err, columnsOf(e.Err), e.now)
	p.say = e.book
	err := setUp(e.ctx, v.From, p)
	p.end()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(e.Out, e.book.Say("Everything is in place."))
	return err
}
