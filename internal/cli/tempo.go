package cli

import (
	"encoding/json"
	"fmt"
	"os"

	"plumbstride/internal/form"
	"plumbstride/internal/sound"
	"plumbstride/internal/tempo"
)

// tempoVerb is one tempo track: what the coach wants, and where it goes.
type tempoVerb struct {
	Target      tempo.Cadence `group:"The run:" placeholder:"168" help:"The cadence to reach, in steps a minute, both feet counted."`
	From        tempo.Cadence `group:"The run:" placeholder:"160" help:"The runner's own cadence, measured at the speed of this run."`
	Minutes     minutesFlag   `group:"The run:" placeholder:"20" help:"The length of the run; signals and count-in come on top."`
	Pattern     tempo.Pattern `group:"The run:" placeholder:"WORDS" help:"The pattern, as above; step-up where --from lies below --target, steady elsewhere."`
	LargerSteps bool          `group:"The run:" help:"Allow steps of more than 5 %. This is the coach's decision, and the schedule says so."`

	Plan    string `group:"From a plan:" placeholder:"plan.json" help:"Take cadence, length and pattern from this plan instead: every practised run of it, or the one named."`
	Week    int    `group:"From a plan:" placeholder:"1" help:"The week of the run."`
	Session int    `group:"From a plan:" placeholder:"1" help:"Which run of the week; the first unless stated."`
	Format  string `group:"From a plan:" enum:"wav,flac,mp3,m4a" default:"flac" placeholder:"wav|flac|mp3|m4a" help:"What the tracks of a whole plan are written as; flac unless stated."`

	Out  string `group:"The result:" placeholder:"FILE" help:"Write the track to this .wav, .flac, .mp3 or .m4a file (the last two by ffmpeg); the tracks of a whole plan into this folder."`
	JSON bool   `group:"The result:" name:"json" help:"Print the schedule as one JSON object, and nothing else."`
	shown
}

// minutesFlag is a length in milliseconds.
type minutesFlag int64

// UnmarshalText reads minutes: "20".
func (m *minutesFlag) UnmarshalText(text []byte) error {
	ms, err := tempo.ParseMinutes(string(text))
	*m = minutesFlag(ms)
	return err
}

// Help stands below the verb's first line in its help.
func (tempoVerb) Help() string {
	return `Makes a track of steps to run to, left and right told apart by pitch, and prints its schedule. The patterns:

    steady
        one cadence all the way
    step-up [in 3 steps] [gliding 30s]
        from the runner's own cadence to the target, by equal steps, the fewest that are
        at most 5 %, each held for an equal time; 15 s to glide where nothing is said
    ladder 150 160 170 [each 40s]
        for a class on the spot: rising cadences, a signal and a count-in between them
    on-off 2min on 1min off
        in turns, to keep the cadence alone in between
    fading [in 5 parts] [from 100% to 20%]
        the run in equal parts (of about 5 minutes), each with the tempo on at first and
        off for the rest; the share that is on falls evenly from the first part to the last

Pain means stop. Change one thing at a time, slowly, on easy runs, and keep an ear free for traffic.

` + exitCodes
}

// Run makes the track.
func (v *tempoVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	if v.Plan != "" {
		return v.fromPlan(e)
	}
	if v.Week != 0 || v.Session != 0 {
		return form.UsageError("--week and --session name a run of a plan; add --plan plan.json")
	}
	plan, err := tempo.Make(tempo.Ask{
		Target: v.Target, Own: v.From, LengthMS: int64(v.Minutes), Pattern: v.Pattern, LargerSteps: v.LargerSteps,
	})
	if err != nil {
		return err
	}
	return v.one(e, plan)
}

// one writes one track and prints its schedule.
func (v *tempoVerb) one(e *errand, plan tempo.Plan) error {
	var format sound.Format
	if v.Out != "" {
		var err error
		if format, err = sound.FormatOf(v.Out); err != nil {
			return form.UsageError("--out: %w", err)
		}
		p := newProgress(e.Err, columnsOf(e.Err), e.now)
		p.say = e.book
		tell := func(done, total int64) {
			p.tell("Tempo track", "seconds", int(done/tempo.SampleRate), int(total/tempo.SampleRate))
		}
		err = v.write(e, v.Out, format, plan, tell)
		p.end()
		if err != nil {
			return err
		}
	}
	if v.JSON {
		enc := json.NewEncoder(e.Out)
		enc.SetIndent("", "  ")
		return enc.Encode(plan)
	}
	_, err := fmt.Fprint(e.Out, v.text(format, plan, columnsOf(e.Out)))
	return err
}

// write renders a track into its file, a piece at a time, and tells how many
// samples are done.
func (v *tempoVerb) write(e *errand, path string, format sound.Format, plan tempo.Plan, tell func(done, total int64)) error {
	return publishFilled(path, everyone, func(f *os.File) error {
		return sound.Write(e.ctx, f, format, sound.Track{
			Source:     &counted{Audio: tempo.NewAudio(plan), total: plan.Samples(), tell: tell},
			SampleRate: tempo.SampleRate, Samples: plan.Samples(),
			Title: v.book.Of(plan.Title), Comment: plan.CommentIn(v.book),
		}, "ffmpeg")
	})
}

// counted tells how far the rendering has come, in samples.
type counted struct {
	*tempo.Audio
	done, total int64
	tell        func(done, total int64)
}

// Read reads on and tells.
func (c *counted) Read(pcm []int16) (int, error) {
	n, err := c.Audio.Read(pcm)
	c.done += int64(n)
	c.tell(c.done, c.total)
	return n, err
}

// text is the schedule as the coach reads it.
func (v *tempoVerb) text(format sound.Format, plan tempo.Plan, columns int) string {
	t, b := newTable(columns), v.book
	t.hanging("", b.Of(plan.Title))
	t.hanging("", b.Say("Pattern: %s", plan.Pattern))
	t.b.WriteString("\n")
	for _, l := range plan.Schedule() {
		t.hanging(fmt.Sprintf("%9s  ", tempo.Clock(l.AtMS)), b.Of(l.Text))
	}
	fmt.Fprintf(&t.b, "%9s  %s\n\n", tempo.Clock(plan.LengthMS()), b.Say("end"))
	t.hanging("", b.Say("Left steps are the lower sound, right steps the higher."))
	t.b.WriteString("\n")
	t.list(b.Say("Take care"), b.Each(plan.Cautions))
	if v.Out == "" {
		t.hanging("", b.Say("Add --out FILE.wav (or .flac, .mp3, .m4a) to get the track."))
	} else {
		t.hanging("", b.Say("The track is in %s (%s, %s minutes, one channel, 44.1 kHz).", printable(v.Out), format, tempo.Clock(plan.LengthMS())))
	}
	return t.b.String()
}
