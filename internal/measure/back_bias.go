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
// the heat map, once the legs were named anew: mean and spread over 24 clips
// of invented runners, 16 that were looked at while this was made and 8 that
// were not (go test ./internal/check -run BackBias -behind 24 -v). Knees are
// shown about half as far aside as they are, which the spread over knees from
// 4 cm outside to 7 cm inside contains. The pelvis is not in the table: the
// points of the hips stay about level whatever it does (correlation 0.4,
// slope 0.3 over drops of 1 to 8°), so its drop is refused.
var backNetworks = biasTable{
	"step_width cm":       {0.2, 1.4},
	"foot_to_line cm":     {0.1, 1.9},
	"knee_projection cm":  {-0.1, 1.7},
	"knee_projection deg": {-0.3, 5.0},
	"trunk_side_lean deg": {-0.4, 0.9},
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
