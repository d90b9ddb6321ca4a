package body

import (
	"math"
	"slices"
	"testing"

	"plumbstride/internal/form"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tolerance)
	}
}

func segment(t *testing.T, table Table, name string) Segment {
	t.Helper()
	i := slices.IndexFunc(table.Segments, func(s Segment) bool { return s.Name == name })
	if i < 0 {
		t.Fatalf("no segment %q", name)
	}
	return table.Segments[i]
}

// The sums of the published table: men 1.0000, women 0.9999 (de Leva 1996).
func TestMassSums(t *testing.T) {
	near(t, "men", DeLeva(Male).MassSum(), 1.0000, 1e-9)
	near(t, "women", DeLeva(Female).MassSum(), 0.9999, 1e-9)
	near(t, "mean of both", DeLeva(NotStated).MassSum(), 0.99995, 1e-9)
}

// Two mistakes that public copies of de Leva's table carry: the head's mass
// typed 0.694, and the shank's centre to the lateral malleolus (0.4459,
// 0.4416) used with the ankle's joint centre (0.4395, 0.4352).
func TestKnownMisprints(t *testing.T) {
	near(t, "head, men", segment(t, DeLeva(Male), "head").Mass, 0.0694, 1e-12)
	near(t, "head, women", segment(t, DeLeva(Female), "head").Mass, 0.0668, 1e-12)
	near(t, "shank, men", segment(t, DeLeva(Male), "shank").COM, 0.4395, 1e-12)
	near(t, "shank, women", segment(t, DeLeva(Female), "shank").COM, 0.4352, 1e-12)
	near(t, "trunk, men, mid-shoulder to mid-hip", segment(t, DeLeva(Male), "trunk").COM, 0.4310, 1e-12)
	near(t, "trunk, women, mid-shoulder to mid-hip", segment(t, DeLeva(Female), "trunk").COM, 0.3782, 1e-12)
	// What the first would do: the masses no longer make one body.
	wrong := DeLeva(Male)
	wrong.Segments = slices.Clone(wrong.Segments)
	wrong.Segments[0].Mass = 0.694
	near(t, "the sum with the head's misprint", wrong.MassSum(), 1.6246, 1e-9)
}

// De Leva 1996 gives one centre of mass with several choices of ends (trunk
// from C7 0.5138 and 0.4964, from mid-shoulder 0.4310 and 0.3782; head from
// the vertex to mid-gonion 0.5976 and 0.5894, to C7 0.5002 and 0.4841). The
// remembered lengths must put each centre at one place, within 1 mm.
func TestLengths(t *testing.T) {
	for _, c := range []struct {
		who                          string
		l                            lengths
		trunkC7, trunkShoulder, head float64
	}{
		{"men", male, 0.5138, 0.4310, 0.5002},
		{"women", female, 0.4964, 0.3782, 0.4841},
	} {
		near(t, c.who+": trunk centre over mid-hip, mm",
			(1-c.trunkC7)*c.l.c7MidHip, (1-c.trunkShoulder)*c.l.midShoulderMidHip, 1)
		near(t, c.who+": head centre under vertex, mm",
			c.head*c.l.vertexC7, c.l.headOfVertexGonion*c.l.vertexGonion, 1)
		near(t, c.who+": head centre on mid-shoulder–ear", headCOM(c.l), 1.04, 0.005)
	}
}

// Independent check of the hand carried over to elbow–wrist: forearm and
// hand together have their centre at 0.682 of elbow–ulnar styloid in
// Winter's table 4.1 (after Dempster 1955).
func TestForearmWithHand(t *testing.T) {
	for _, sex := range []Sex{Male, Female} {
		f, h := segment(t, DeLeva(sex), "forearm"), segment(t, DeLeva(sex), "hand")
		near(t, sex.String(), (f.Mass*f.COM+h.Mass*h.COM)/(f.Mass+h.Mass), 0.682, 0.01)
	}
}

// winter is Winter's table 4.1 (Biomechanics and Motor Control of Human
// Movement, 4th ed. 2009, after Dempster 1955) without the hand: its far end
// is no joint of a track.
func winter() Table {
	return Table{Source: "Winter 2009, table 4.1", Segments: []Segment{
		{"head", form.Shoulder, form.Ear, false, 0.081, 1.000},
		{"trunk", form.Hip, form.Shoulder, false, 0.497, 0.500},
		{"upper arm", form.Shoulder, form.Elbow, true, 0.028, 0.436},
		{"forearm", form.Elbow, form.Wrist, true, 0.016, 0.430},
		{"thigh", form.Hip, form.Knee, true, 0.100, 0.433},
		{"shank", form.Knee, form.Ankle, true, 0.0465, 0.433},
		{"foot", form.Ankle, form.Toe, true, 0.0145, 0.500},
	}}
}

// Winter's table 4.1 makes one body: 0.081 + 0.497 + 2·(0.028 + 0.016 + 0.006
// + 0.100 + 0.0465 + 0.0145) = 1.000; foot and shank together 0.061, the leg
// 0.161.
func TestWinterMassSums(t *testing.T) {
	near(t, "with the hands", winter().MassSum()+2*0.006, 1, 1e-12)
	mass := func(name string) float64 { return segment(t, winter(), name).Mass }
	near(t, "foot and shank", mass("foot")+mass("shank"), 0.061, 1e-12)
	near(t, "leg", mass("foot")+mass("shank")+mass("thigh"), 0.161, 1e-12)
	// An 80-kg man's, kg (Winter's worked example; from memory).
	near(t, "foot, 80 kg", 80*mass("foot"), 1.16, 1e-9)
	near(t, "shank, 80 kg", 80*mass("shank"), 3.72, 1e-9)
	near(t, "thigh, 80 kg", 80*mass("thigh"), 8.0, 1e-9)
	near(t, "head, arms and trunk, 80 kg", 80*(mass("head")+mass("trunk")+2*(mass("upper arm")+mass("forearm")+0.006)), 54.24, 1e-9)
}

// Winter's worked problem: the foot's and the thigh's centre of mass, cm
// (inputs from memory, result recomputed from table 4.1).
func TestWinterWorkedProblem(t *testing.T) {
	foot := along([2]float64{84.9, 11.0}, [2]float64{101.1, 1.3}, segment(t, winter(), "foot").COM)
	near(t, "foot x", foot[0], 93.0, 0.005)
	near(t, "foot y", foot[1], 6.15, 0.005)
	thigh := along([2]float64{72.1, 92.8}, [2]float64{86.4, 54.9}, segment(t, winter(), "thigh").COM)
	near(t, "thigh x", thigh[0], 78.2919, 5e-5)
	near(t, "thigh y", thigh[1], 76.3893, 5e-5)
}

// Winter's walking data, table A.1, frame 36 (hip 118.78, 81.63; knee
// 128.32, 51.86; ankle 129.46, 9.10; fifth metatarsal 139.39, 3.75 cm):
// the whole leg's centre by his fractions, through CentreOfMass with one
// leg alone there.
func TestWinterWalkingFrame(t *testing.T) {
	leg := winter()
	leg.Segments = leg.Segments[4:]
	var p Positions
	var ok Present
	for point, at := range map[form.Point][2]float64{
		form.Hip: {118.78, 81.63}, form.Knee: {128.32, 51.86},
		form.Ankle: {129.46, 9.10}, form.Toe: {139.39, 3.75},
	} {
		j := form.At(point, form.Right)
		p[j], ok[j] = at, true
	}
	com, missing := leg.CentreOfMass(&p, &ok)
	near(t, "x", com[0], 125.653, 0.0005)
	near(t, "y", com[1], 52.905, 0.0005)
	near(t, "missing mass", missing, 0.5, 1e-12)
}

// Textbook leg (what-when-how.com, Biomechanics of the Human Body): masses
// 0.106, 0.046, 0.017 at (17.3, 51.3), (42.5, 32.8), (45.0, 3.3) cm give
// (26.9, 41.4), exactly (26.95, 41.44); standing, with the thigh at
// (42.5, 76.6), (42.75, 57.30). Segments of no length at their centres.
func TestTextbookLeg(t *testing.T) {
	table := Table{Segments: []Segment{
		{"thigh", form.Hip, form.Hip, true, 0.106, 0},
		{"leg", form.Knee, form.Knee, true, 0.046, 0},
		{"foot", form.Ankle, form.Ankle, true, 0.017, 0},
	}}
	for _, c := range []struct {
		thigh, want [2]float64
	}{
		{[2]float64{17.3, 51.3}, [2]float64{26.95, 41.44}},
		{[2]float64{42.5, 76.6}, [2]float64{42.75, 57.30}},
	} {
		var p Positions
		var ok Present
		for point, at := range map[form.Point][2]float64{
			form.Hip: c.thigh, form.Knee: {42.5, 32.8}, form.Ankle: {45.0, 3.3},
		} {
			j := form.At(point, form.Left)
			p[j], ok[j] = at, true
		}
		com, _ := table.CentreOfMass(&p, &ok)
		near(t, "x", com[0], c.want[0], 0.005)
		near(t, "y", com[1], c.want[1], 0.005)
	}
}

// A standing figure with Winter's fractions, computed by hand from table
// 4.1: (0.00338, 1.02035) m. The hands (0.006 each, 0.506 of wrist to
// knuckle) are added here.
func TestWinterStanding(t *testing.T) {
	p, ok := standing()
	com, _ := winter().CentreOfMass(&p, &ok)
	hand := along([2]float64{0.05, 0.87}, [2]float64{0.06, 0.79}, 0.506)
	near(t, "mass without hands", winter().MassSum(), 0.988, 1e-12)
	near(t, "x", 0.988*com[0]+0.012*hand[0], 0.00338, 5e-6)
	near(t, "y", 0.988*com[1]+0.012*hand[1], 1.02035, 5e-6)
}

// standing is a figure on its feet, metres, both sides alike.
func standing() (Positions, Present) {
	var p Positions
	var ok Present
	for point, at := range map[form.Point][2]float64{
		form.Ear: {0, 1.66}, form.Shoulder: {0, 1.45}, form.Elbow: {0, 1.12}, form.Wrist: {0.05, 0.87},
		form.Hip: {0, 0.93}, form.Knee: {0, 0.50}, form.Ankle: {0, 0.07},
		form.Heel: {-0.06, 0.03}, form.Toe: {0.14, 0},
	} {
		for _, side := range []form.Side{form.Left, form.Right} {
			j := form.At(point, side)
			p[j], ok[j] = at, true
		}
	}
	return p, ok
}

// Standing, arms at the sides, the centre of mass lies at about 0.55 to 0.58
// of the height (from memory: usual textbooks); this figure's vertex would be
// at about 1.79 m. With the sex not stated it lies midway but for the product
// of mean mass and mean centre.
func TestStandingHeight(t *testing.T) {
	p, ok := standing()
	men, missing := DeLeva(Male).CentreOfMass(&p, &ok)
	women, _ := DeLeva(Female).CentreOfMass(&p, &ok)
	mean, _ := DeLeva(NotStated).CentreOfMass(&p, &ok)
	near(t, "missing mass", missing, 0, 1e-12)
	near(t, "men / height", men[1]/1.79, 0.565, 0.015)
	near(t, "women / height", women[1]/1.79, 0.565, 0.015)
	near(t, "mean of both", mean[1], (men[1]+women[1])/2, 0.001)
}

func TestMissing(t *testing.T) {
	p, ok := standing()
	table := DeLeva(Male)
	if got := table.Missing(&ok); got != nil {
		t.Errorf("missing of a whole figure = %v", got)
	}
	ok[form.At(form.Wrist, form.Left)] = false
	ok[form.At(form.Ear, form.Left)] = false // the other ear stands in
	want := []string{"left forearm", "left hand"}
	if got := table.Missing(&ok); !slices.Equal(got, want) {
		t.Errorf("missing = %v, want %v", got, want)
	}
	_, missing := table.CentreOfMass(&p, &ok)
	near(t, "missing mass", missing, 0.0162+0.0061, 1e-12)

	com, missing := table.CentreOfMass(&p, &Present{})
	if !math.IsNaN(com[0]) || !math.IsNaN(com[1]) || missing != 1 {
		t.Errorf("of nothing: com %v, missing %v; want NaN and 1", com, missing)
	}
}

// What a joint that is not there carries must not matter.
func TestMissingPositionsIgnored(t *testing.T) {
	p, ok := standing()
	gone := form.At(form.Knee, form.Right)
	ok[gone] = false
	want, _ := DeLeva(NotStated).CentreOfMass(&p, &ok)
	p[gone] = [2]float64{math.NaN(), math.Inf(1)}
	if got, _ := DeLeva(NotStated).CentreOfMass(&p, &ok); got != want {
		t.Errorf("com = %v, want %v", got, want)
	}
}

func drawBody(t *rapid.T) (Positions, Present) {
	var p Positions
	var ok Present
	coordinate := rapid.Float64Range(-2, 2)
	for j := range p {
		p[j] = [2]float64{coordinate.Draw(t, "x"), coordinate.Draw(t, "y")}
		ok[j] = rapid.Float64Range(0, 1).Draw(t, "there") < 0.85
	}
	return p, ok
}

// Moving, turning, scaling or mirroring the body does the same to its
// centre of mass, and exchanging left and right does nothing.
func TestEquivariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, ok := drawBody(t)
		table := DeLeva(Sex(rapid.IntRange(0, 2).Draw(t, "sex")))
		com, missing := table.CentreOfMass(&p, &ok)
		if missing == 1 {
			t.Skip("nothing there")
		}
		sin, cos := math.Sincos(rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle"))
		scale := rapid.Float64Range(0.1, 10).Draw(t, "scale")
		dx, dy := rapid.Float64Range(-5, 5).Draw(t, "dx"), rapid.Float64Range(-5, 5).Draw(t, "dy")
		mirror := 1.0
		if rapid.Bool().Draw(t, "mirror") {
			mirror = -1
		}
		move := func(q [2]float64) [2]float64 {
			x, y := mirror*scale*q[0], scale*q[1]
			return [2]float64{cos*x - sin*y + dx, sin*x + cos*y + dy}
		}
		var q Positions
		var okQ Present
		for j := range p {
			k := form.Joint(j)
			if k != 0 {
				k = form.At(k.Point(), k.Side().Other())
			}
			q[k], okQ[k] = move(p[j]), ok[j]
		}
		got, gotMissing := table.CentreOfMass(&q, &okQ)
		want := move(com)
		if math.Hypot(got[0]-want[0], got[1]-want[1]) > 1e-9 || math.Abs(gotMissing-missing) > 1e-12 {
			t.Fatalf("com %v missing %v, want %v missing %v", got, gotMissing, want, missing)
		}
	})
}

// The parts of the leg add up to the leg: 0.245 + 0.246 + 0.039 = 0.530;
// 1.75 m has a leg of 0.9275 m (arithmetic on Drillis & Contini 1966).
func TestProportions(t *testing.T) {
	near(t, "leg", LegLength(1.75), 0.9275, 1e-12)
	near(t, "sum", ThighLength(1.75)+ShankLength(1.75)+AnkleHeight(1.75), LegLength(1.75), 1e-12)
	near(t, "foot", FootLength(1.75), 0.266, 1e-12)
	near(t, "hips", HipWidth(1.75), 0.33425, 1e-12)
	near(t, "shoulders", BiacromialWidth(1.75), 0.45325, 1e-12)
}

func TestUnknownSexPanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("DeLeva(9) did not panic")
		}
	}()
	DeLeva(9)
}

func BenchmarkCentreOfMass(b *testing.B) {
	p, ok := standing()
	table := DeLeva(NotStated)
	for b.Loop() {
		table.CentreOfMass(&p, &ok)
	}
}
