package accelerometry

// Def is a measure that only a recording has.
type Def struct {
	Name, Title, Unit, Meaning, Formula, Source string
}

// Table lists the measures that only a recording has; the others have the
// names and definitions of package measure.
func Table() []Def {
	return []Def{
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

// Title gives the title of a measure that only a recording has.
func Title(name string) (title string, ok bool) {
	for _, d := range Table() {
		if d.Name == name {
			return d.Title, true
		}
	}
	return "", false
}
