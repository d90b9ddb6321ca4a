package standin

// Demo gives the demo's clip: an invented runner on a treadmill whose steps
// are slow and reach far ahead of the body, filmed from the side at 60
// frames a second.
func Demo() (r Runner, cam Camera, scene Scene, seconds float64) {
	r = DefaultRunner()
	r.HeightM, r.MassKg = 1.72, 64
	r.SpeedMS, r.CadenceSPM, r.ContactS = 2.75, 154, Pair{0.275, 0.271}
	r.StepTimeAsymmetryPct = 1
	r.FootContactDeg, r.KneeContactDeg, r.LandingM = Pair{18, 17}, Pair{11, 12}, Pair{0.25, 0.245}
	r.BounceM = 0.084
	r.TrunkLeanDeg, r.HeadForwardM, r.HeadPitchDeg = 6, 0.035, -4
	r.StepSpread = 0.6
	cam = DefaultCamera()
	cam.AimYM = 0.87
	return r, cam, DefaultScene(), 10
}
