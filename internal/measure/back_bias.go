package measure

// backBiasOf gives what a network's points add to the measures from behind.
// Only the heavy network tells the legs apart well enough; the others'
// uncertainty is wider.
func backBiasOf(network string) (t biasTable, ours bool) {
	switch network {
	case "full", "heavy", "full+heavy", "lite":
		t = make(biasTable, len(backNetworks))
		for k, b := range backNetworks {
			if network != "heavy" {
				b.sd *= 2
			}
			t[k] = b
		}
		return t, true
	default:
		return backElsewhere, false
	}
}

// backNetworks is what the heavy network adds to a measure from behind, with
// the heat map: over 16 clips of invented runners, of whom one was refused
// since the legs could not be told apart (go test ./internal/check -run
// BackBias -bias 16 -v, the mean and the spread of single clips). Knees are
// shown half as far aside as they are (slope 0.6), which the spread over
// knees from 4 cm outside to 7 cm inside contains. The pelvis is not in the
// table: the points of the hips stay level whatever it does (correlation
// 0.4, slope 0.3), so its drop is refused.
var backNetworks = biasTable{
	"step_width cm":       {0.5, 1.7},
	"foot_to_line cm":     {0.3, 2.1},
	"knee_projection cm":  {0.6, 1.8},
	"knee_projection deg": {1.5, 5.5},
	"trunk_side_lean deg": {-0.3, 0.9},
}

// backElsewhere is for tracks whose points come from another hand.
var backElsewhere = biasTable{
	"step_width cm":              {0, 0.4},
	"foot_to_line cm":            {0, 0.4},
	"pelvic_drop deg":            {0, 0.9},
	"pelvic_drop_difference deg": {0, 0.9},
	"knee_projection cm":         {0, 0.3},
	"knee_projection deg":        {0, 0.8},
	"trunk_side_lean deg":        {0, 0.3},
}
