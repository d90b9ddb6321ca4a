package accelerometry

// Def is a measure as a recording gives it. SD is its typical standard
// uncertainty in Unit, with the fore–aft direction known; 0 where that hangs
// on the recording's length.
type Def struct {
	Name, Title, Unit, Meaning, Formula, Source string
	SD                                          float64
}

// Table lists the measures of a recording: those that package measure has
// too, by other means, and those that only a recording has.
func Table() []Def {
	const forces = "checked against the force plate of Alcantara et al. 2022, PeerJ 10:e12752, doi 10.7717/peerj.12752"
	return []Def{
		{
			Name: "cadence", Title: "Cadence", Unit: "steps/min",
			Meaning: "How many steps a minute, both feet counted.",
			Formula: "60 / mean time between the rises of the upward acceleration through 1 g, out of flight; its autocorrelation must agree within 2 %",
			Source:  forces,
		},
		{
			Name: "contact_time", Title: "Contact time", Unit: "ms", SD: 1000 * methodSD,
			Meaning: "How long the foot stays on the ground.",
			Formula: "from where braking begins, by the fore–aft acceleration, to half-way between the end of the vertical push and the fore–aft trough after it, less the offset that the force plate gives; without fore–aft, from the vertical's mean square and its edges (docs/accelerometer.md)",
			Source:  forces,
		},
		{
			Name: "flight_time", Title: "Flight time", Unit: "ms", SD: 1000 * methodSD,
			Meaning: "How long both feet are off the ground.",
			Formula: "time of a step − contact time", Source: forces,
		},
		{
			Name: "duty_factor", Title: "Duty factor", Unit: "–", SD: methodSD / 0.72,
			Meaning: "The share of a stride that a foot spends on the ground.",
			Formula: "contact time / time of two steps", Source: forces,
		},
		{
			Name: "step_count", Title: "Steps counted", Unit: "steps",
			Meaning: "How many steps were walked or run in the recording.",
			Formula: "time of each stretch of walking or running / length of a step there, window by window of 4 s",
			Source:  "definition; checked against counted steps, Salvi et al. 2018",
		},
		{
			Name: "walking_cadence", Title: "Cadence while walking", Unit: "steps/min",
			Meaning: "How many steps a minute while walking.",
			Formula: "60 / length of a step by the autocorrelation of the upward acceleration, mean over windows of 4 s",
			Source:  "definition",
		},
	}
}

// Title gives the title of a recording's measure.
func Title(name string) (title string, ok bool) {
	for _, d := range Table() {
		if d.Name == name {
			return d.Title, true
		}
	}
	return "", false
}
