package body

// Body proportions as fractions of standing height: Drillis R, Contini R
// 1966, as drawn in Winter DA, Biomechanics and Motor Control of Human
// Movement, figure 4.1. Leg and ankle were seen in a copy of the
// figure; thigh, shank, foot and the two widths are from memory, and
// thigh + shank + ankle = leg holds. A person's own proportions differ from
// these by about 3 to 5 % (from memory), which the caller has to count in.
const (
	legOfHeight        = 0.530
	thighOfHeight      = 0.245
	shankOfHeight      = 0.246
	ankleOfHeight      = 0.039
	footOfHeight       = 0.152
	hipsOfHeight       = 0.191
	biacromialOfHeight = 0.259
)

// LegLength is the height of the greater trochanter over the ground, in
// metres, of a person of the height in metres: 0.530 H.
func LegLength(heightM float64) float64 { return legOfHeight * heightM }

// ThighLength is hip to knee in metres: 0.245 H.
func ThighLength(heightM float64) float64 { return thighOfHeight * heightM }

// ShankLength is knee to ankle in metres: 0.246 H.
func ShankLength(heightM float64) float64 { return shankOfHeight * heightM }

// AnkleHeight is the ankle over the ground in metres: 0.039 H.
func AnkleHeight(heightM float64) float64 { return ankleOfHeight * heightM }

// FootLength is heel to toe tip in metres: 0.152 H.
func FootLength(heightM float64) float64 { return footOfHeight * heightM }

// HipWidth is the breadth of the hips in metres: 0.191 H.
func HipWidth(heightM float64) float64 { return hipsOfHeight * heightM }

// BiacromialWidth is shoulder tip to shoulder tip in metres: 0.259 H.
func BiacromialWidth(heightM float64) float64 { return biacromialOfHeight * heightM }
