package cli

import (
	"os"
	"path/filepath"

	"plumbstride/internal/accelerometry"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// recorderFlags say how the recording of an accelerometer is to be read.
type recorderFlags struct {
	Accelerometer    bool           `group:"A body-worn accelerometer:" help:"The file is the recording of a body-worn accelerometer: text, one sample a line, gravity included (also gzipped)."`
	Columns          columnsFlag    `group:"A body-worn accelerometer:" placeholder:"time=1,x=2,y=3,z=4" help:"Which column is what, by heading or number: time and x, y, z in any direction, or vertical (up) and forward."`
	TimeUnit         string         `group:"A body-worn accelerometer:" enum:",s,ms,us,ns" default:"" placeholder:"s|ms|us|ns" help:"The unit of the time; the heading's, or by its size, unless stated."`
	AccelerationUnit string         `group:"A body-worn accelerometer:" enum:",g,m/s2,bw" default:"" placeholder:"g|m/s2|bw" help:"The unit of the acceleration: g, m/s² or body weights; the heading's, or by its size, unless stated."`
	SampleRate       sampleRateFlag `group:"A body-worn accelerometer:" placeholder:"100" help:"Samples a second, where there is no column for the time."`
	Worn             string         `group:"A body-worn accelerometer:" enum:",back,elsewhere" default:"" placeholder:"back|elsewhere" help:"Where it was worn: at the small of the back, where contact time can be told, or elsewhere (pocket, arm, wrist)."`
}

// columnsFlag reads "time=1,vertical=2".
type columnsFlag accelerometry.Columns

// UnmarshalText reads "time=1,x=2,y=3,z=4".
func (c *columnsFlag) UnmarshalText(text []byte) error {
	columns, err := accelerometry.ParseColumns(string(text))
	*c = columnsFlag(columns)
	return err
}

// sampleRateFlag is a sensor's rate in samples a second.
type sampleRateFlag float64

// UnmarshalText reads "100".
func (r *sampleRateFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Rate(string(text))
	if err != nil {
		return err
	}
	if v < 1 || v > 5000 {
		return form.UsageError("a sensor gives between 1 and 5000 samples a second, and %s is not", text)
	}
	*r = sampleRateFlag(v)
	return nil
}

// stated tells whether anything was said of a recording.
func (r recorderFlags) stated() bool {
	r.Accelerometer = false
	return r != recorderFlags{}
}

func (r recorderFlags) recorder() check.Recorder {
	return check.Recorder{
		Options: accelerometry.Options{
			Columns: accelerometry.Columns(r.Columns), TimeUnit: r.TimeUnit, Unit: r.AccelerationUnit, RateHz: float64(r.SampleRate),
		},
		Worn: accelerometry.Place(r.Worn),
	}
}

// Validate refuses words that don't go together: a clip without the runner's
// height, a recording with the camera's flags.
func (v *checkVerb) Validate() error {
	switch {
	case v.Clip == "":
		return form.UsageError("name what to check, for instance: plumbstride check clip.mp4 --height 172cm")
	case !v.Accelerometer && v.Height == 0:
		return form.UsageError("missing flags: --height=172cm")
	case !v.Accelerometer && v.stated():
		return form.UsageError("--columns, --time-unit, --acceleration-unit, --sample-rate and --worn are about the recording of an accelerometer; add --accelerometer")
	case v.Accelerometer && len(v.More) > 0:
		return form.UsageError("name one recording of an accelerometer at a time")
	case v.Accelerometer && (v.Track != "" || v.Network != "" || v.Level.stated || v.CaptureRate != 0 || form.Side(v.Facing) != form.Both):
		return form.UsageError("a recording of an accelerometer has no track and no camera: leave out --track, --network, --level, --facing and --capture-rate")
	}
	return nil
}

func (v *checkVerb) checkRecording(e *errand, p *progress) (*check.Outcome, error) {
	f, err := os.Open(v.Clip)
	if err != nil {
		return nil, form.ClipError("the recording %s can't be read: %w", v.Clip, err)
	}
	defer f.Close()
	out, err := check.Accelerometer(e.ctx, forTrack(e, p), f, v.recorder(), v.ask())
	if err != nil {
		return nil, err
	}
	out.Card.Clip.File = filepath.Base(v.Clip)
	return out, nil
}
