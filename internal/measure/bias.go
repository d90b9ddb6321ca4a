package measure

// bias is what a network adds to a measure on average, and the standard
// uncertainty of that, in the measure's unit.
type bias struct{ offset, sd float64 }

type biasTable map[string]bias

// of gives a measure's bias; where none was learnt, none is taken off.
func (t biasTable) of(name, unit string) bias { return t[name+" "+unit] }

// biasOf gives the table of the network that found the points. A track made
// elsewhere (an empty or unknown name) gets no offset; its points' own
// placing is then the maker's, and only a small uncertainty is added.
func biasOf(network string) biasTable {
	return elsewhere
}

var elsewhere = biasTable{
	"foot_strike_angle deg":    {0, 2},
	"flat_foot deg":            {0, 5},
	"landing_distance cm":      {0, 1},
	"heel_landing_distance cm": {0, 1},
	"knee_flexion_contact deg": {0, 2},
	"knee_flexion_peak deg":    {0, 2},
	"shank_angle deg":          {0, 1},
	"trunk_lean deg":           {0, 1},
	"body_lean deg":            {0, 1},
	"hip_hinge deg":            {0, 1},
	"head_forward cm":          {0, 1},
	"head_forward deg":         {0, 3},
	"midstance_stack cm":       {0, 1},
	"vertical_oscillation cm":  {0, 0.4},
}
