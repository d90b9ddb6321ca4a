package measure

import (
	"flag"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/stand"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

var standers = flag.Int("standers", 300, "how many invented standing people the coverage test draws a view")

// standingKinds are the columns of the study of standing: points where their
// maker says, and points placed as the table of the networks' placing says.
var standingKinds = []struct{ name, id, network string }{
	{"standing, points of a network", "standing-network", "heavy"},
	{"standing, points from elsewhere", "standing-elsewhere", ""},
}

// standingCase is an invented person standing, filmed from the side (even
// numbers) or from the front; half of them with a level that is known.
func standingCase(i int, network string) (tr form.Track, truth standin.Truth, facts stand.Facts, cam standin.Camera, err error) {
	rng := rand.New(rand.NewPCG(11, uint64(i)))
	r, cam := standin.RandomStander(rng, []form.View{form.ViewSide, form.ViewFront}[i%2])
	tr, truth, err = standin.Track(r, cam, 1.5, rng)
	if err != nil {
		return tr, truth, facts, cam, err
	}
	facts = stand.Facts{HeightM: r.HeightM}
	if i%4 < 2 {
		facts.Level = gait.Level{Deg: cam.RollDeg + 0.3*rng.NormFloat64(), SD: 0.3, Known: true}
	}
	placeAs(tr, network, r.HeightM, cam, rng)
	tr.View, tr.Facing, tr.Network = "", form.Both, network
	return tr, truth, facts, cam, nil
}

// placeAs moves the points of somebody standing to where a network may put
// them: its mean offset, what is not known of that, which both sides share,
// and each joint's own. The track is changed.
func placeAs(tr form.Track, network string, heightM float64, cam standin.Camera, rng *rand.Rand) {
	put := placingOf(network)
	px := float64(cam.Height) / 2 / math.Tan(geom.Radians(cam.FOVDeg)/2) / cam.DistanceM * heightM
	table, shared := put.of(cam.View), map[form.Point]geom.Vec{}
	for pt := form.Eye; pt <= form.Toe; pt++ { // in their order, for the same draws each time
		shared[pt] = geom.Vec{X: table[pt].sdAlong * rng.NormFloat64(), Y: table[pt].sdUp * rng.NormFloat64()}
	}
	for j := range form.Joint(form.NumJoints) {
		b := table[j.Point()]
		v := b.near
		if cam.View == form.ViewSide && j.Side() != cam.Near() {
			v = b.far
		}
		v = v.Add(shared[j.Point()]).Scale(0.01)
		if cam.View != form.ViewSide && j.Side() == form.Right {
			v.X = -v.X // outward
		}
		own := put.ownOf(cam.View)
		v = v.Add(geom.Vec{X: own * rng.NormFloat64(), Y: own * rng.NormFloat64()}).Scale(px)
		facing := form.Right // the person's left lies to the right of a picture from the front
		if cam.View == form.ViewSide {
			facing = cam.Facing
		}
		v = testkit.Pictured(v, facing, cam.RollDeg)
		for i := range tr.Frames {
			if s := &tr.Frames[i].Spots[j]; s.Seen() {
				s.X, s.Y = s.X+v.X, s.Y+v.Y
			}
		}
	}
}

// standingTrials measures n invented people a view.
func standingTrials(t *testing.T, n int, network string) map[string][]trial {
	t.Helper()
	out, unseen := map[string][]trial{}, 0
	for i := range 2 * n {
		tr, truth, facts, cam, err := standingCase(i, network)
		if err != nil {
			t.Fatalf("person %d: %v", i, err)
		}
		p, err := stand.Find(tr, facts)
		if err != nil || p.View != cam.View || cam.View == form.ViewSide && p.Facing != cam.Facing {
			out["refused"] = append(out["refused"], trial{}) // or taken for another view
			continue
		}
		got, no := Standing(p, Who{HeightM: facts.HeightM})
		if unseen += len(no); unseen > n/100 { // feet at the picture's edge
			t.Fatalf("person %d: %d measures refused by now: %v", i, unseen, no)
		}
		for _, m := range got {
			want, ok := truth.Value(m.Name, m.Unit, m.Side)
			if !ok {
				t.Fatalf("no truth of %s", m.Name)
			}
			key := m.Name + " " + m.Unit
			out[key] = append(out[key], trial{err: m.Value - want.Value, sd: m.SD, hit: want.Value >= m.Low && want.Value <= m.High})
		}
	}
	return out
}

// TestStandingCoverage draws invented people standing and asks that the truth
// lie within each measure's 95 % interval about that often.
func TestStandingCoverage(t *testing.T) {
	n := *standers
	if *writeStudy {
		n = 2000
	}
	for _, kind := range standingKinds {
		t.Run(kind.name, func(t *testing.T) {
			all := standingTrials(t, n, kind.network)
			if lost := len(all["refused"]); lost > n/10 || kind.network == "" && lost > 0 {
				t.Errorf("%d of %d refused", lost, 2*n)
			}
			delete(all, "refused")
			holdsAsOften(t, n, mostOff, all)
		})
	}
}

// stander measures an invented stander without noise.
func stander(t *testing.T, change func(*standin.Runner, *standin.Camera), facts stand.Facts) (map[string]form.Measure, standin.Truth) {
	t.Helper()
	r, cam := standin.Stander(), standin.DefaultCamera()
	change(&r, &cam)
	tr, truth, err := standin.Track(r, cam, 0.5, nil)
	if err != nil {
		t.Fatal(err)
	}
	facts.HeightM = r.HeightM
	p, err := stand.Find(tr, facts)
	if err != nil {
		t.Fatal(err)
	}
	got, refused := Standing(p, Who{HeightM: r.HeightM})
	if len(refused) > 0 {
		t.Errorf("refused: %v", refused)
	}
	byName := map[string]form.Measure{}
	for _, m := range got {
		byName[m.Name+" "+m.Unit+" "+m.Side.String()] = m
	}
	return byName, truth
}

// Known postures through the whole way from pixels to numbers: from an exact
// track with a known level, offsets come back to 3 mm, angles to 0.5°, the
// weight to 1 % of the foot, whichever way the person faces.
func TestStandingKnownPostures(t *testing.T) {
	level := stand.Facts{Level: gait.Level{SD: 0.2, Known: true}}
	within := map[string]float64{"cm": 0.3, "deg": 0.5, "%": 1, "–": 0.03}
	for name, change := range map[string]func(*standin.Runner, *standin.Camera){
		"upright":          func(*standin.Runner, *standin.Camera) {},
		"facing left":      func(_ *standin.Runner, c *standin.Camera) { c.Facing = form.Left },
		"head forward":     func(r *standin.Runner, _ *standin.Camera) { r.HeadForwardM = 0.09 },
		"locked, on heels": func(r *standin.Runner, _ *standin.Camera) { r.KneeStandingDeg, r.WeightOverFootPct = -6, 28 },
		"leaning back":     func(r *standin.Runner, _ *standin.Camera) { r.TrunkLeanDeg = -8 },
		"tall picture":     func(_ *standin.Runner, c *standin.Camera) { c.Width, c.Height, c.FOVDeg = 1080, 1920, 40 },
		"front":            func(_ *standin.Runner, c *standin.Camera) { c.View = form.ViewFront },
		"front, askew": func(r *standin.Runner, c *standin.Camera) {
			c.View, r.ShoulderLevelDeg, r.HipLevelDeg, r.ToeOutDeg, r.StanceWidth = form.ViewFront, 4, -1.5, standin.Pair{Left: 18, Right: -4}, 1.8
		},
		"back": func(r *standin.Runner, c *standin.Camera) { c.View, r.ShoulderLevelDeg = form.ViewBack, -3 },
	} {
		got, truth := stander(t, change, level)
		if len(got) < 3 {
			t.Errorf("%s: %d measures", name, len(got))
		}
		for key, m := range got {
			want, ok := truth.Value(m.Name, m.Unit, m.Side)
			limit := within[m.Unit]
			if m.Name == "toe_out" {
				limit = 1.5 // the shoe's length over the body's height
			}
			if !ok || math.Abs(m.Value-want.Value) > limit {
				t.Errorf("%s: %s is %.3f, truth %.3f", name, key, m.Value, want.Value)
			}
			if m.Low > want.Value || m.High < want.Value {
				t.Errorf("%s: %s %.2f…%.2f does not hold %.2f", name, key, m.Low, m.High, want.Value)
			}
		}
	}
}

// A camera rolled by 3° that nobody knows of: each value moves as its height
// over the ankle says, and the interval, widened by the telephone's usual
// ±3.3°, still holds the truth. Known, it moves nothing.
func TestStandingRoll(t *testing.T) {
	roll := func(_ *standin.Runner, c *standin.Camera) { c.RollDeg = 3 }
	blind, truth := stander(t, roll, stand.Facts{})
	known, _ := stander(t, roll, stand.Facts{Level: gait.Level{Deg: 3, SD: 0.2, Known: true}})
	for key, height := range map[string]float64{"plumb_ear cm both": 158, "plumb_shoulder cm both": 136, "plumb_hip cm both": 86, "plumb_knee cm both": 43} {
		want, _ := truth.Value(blind[key].Name, "cm", form.Both)
		if moved, should := blind[key].Value-want.Value, height*math.Tan(3*math.Pi/180); math.Abs(moved-should) > 0.06*height*0.052+0.3 {
			t.Errorf("%s moved by %.2f cm, theory %.2f", key, moved, should)
		}
		if blind[key].Low > want.Value || blind[key].High < want.Value {
			t.Errorf("%s: %.2f…%.2f does not hold %.2f", key, blind[key].Low, blind[key].High, want.Value)
		}
		if known[key].SD > blind[key].SD/2 || math.Abs(known[key].Value-want.Value) > 0.5 {
			t.Errorf("%s with a known level: %.2f ± %.2f, truth %.2f", key, known[key].Value, known[key].SD, want.Value)
		}
		if blind[key].Note == "" || known[key].Note != "" {
			t.Errorf("%s: notes %q and %q", key, blind[key].Note, known[key].Note)
		}
	}
}

// 12° off side-on: the truth stays in every interval.
func TestStandingYaw(t *testing.T) {
	for _, yaw := range []float64{-12, 12} {
		got, truth := stander(t, func(_ *standin.Runner, c *standin.Camera) { c.YawDeg = yaw }, stand.Facts{Level: gait.Level{SD: 0.3, Known: true}})
		for key, m := range got {
			if want, _ := truth.Value(m.Name, m.Unit, m.Side); m.Low > want.Value || m.High < want.Value {
				t.Errorf("%+.0f°: %s %.2f…%.2f does not hold %.2f", yaw, key, m.Low, m.High, want.Value)
			}
		}
	}
}

// Where a network's points are, its placing is taken off and paid for.
func TestStandingNetworkIsPaidFor(t *testing.T) {
	r, cam := standin.Stander(), standin.DefaultCamera()
	tr, _, err := standin.Track(r, cam, 0.5, nil)
	if err != nil {
		t.Fatal(err)
	}
	sds := map[string]float64{}
	for _, network := range []string{"", "heavy", "lite"} {
		tr.Network = network
		p, err := stand.Find(tr, stand.Facts{HeightM: r.HeightM, Level: gait.Level{SD: 0.2, Known: true}})
		if err != nil {
			t.Fatal(err)
		}
		got, _ := Standing(p, Who{HeightM: r.HeightM})
		sds[network] = got[2].SD
	}
	if !(sds[""] < 0.6 && sds["heavy"] > 2 && sds["lite"] > sds["heavy"]) {
		t.Errorf("hip offset's uncertainty by network: %v", sds)
	}
}

// The flat foot of the standing check is the flat foot's true angle in a side
// view, −1.3° for this shoe (Motion.flatFoot), and makes the foot strike angle
// of a forefoot landing surer, since such a foot never rests flat in stance.
func TestFlatFeet(t *testing.T) {
	s, cam := standin.Stander(), standin.DefaultCamera()
	s.ToeOutDeg = standin.Even(5)
	tr, _, err := standin.Track(s, cam, 0.5, nil)
	if err != nil {
		t.Fatal(err)
	}
	level := gait.Level{SD: 0.2, Known: true}
	p, err := stand.Find(tr, stand.Facts{HeightM: s.HeightM, Level: level})
	if err != nil {
		t.Fatal(err)
	}
	flat := FlatFeet(p)
	if flat == nil || !flat.Seen[form.Right] || flat.SD[form.Left] <= flat.SD[form.Right] {
		t.Fatalf("%+v", flat)
	}
	r := standin.DefaultRunner()
	r.FootContactDeg, r.HeelGapDeg = standin.Even(-9), 5
	run, truth, err := standin.Track(r, cam, 8, rand.New(rand.NewPCG(4, 4)))
	if err != nil {
		t.Fatal(err)
	}
	g, err := gait.Analyse(track.Smooth(run), gait.Facts{HeightM: r.HeightM, Level: level})
	if err != nil {
		t.Fatal(err)
	}
	strike := func(who Who) form.Measure {
		got, _ := All(g, who)
		for _, m := range got {
			if m.Name == "foot_strike_angle" && m.Side == form.Right {
				return m
			}
		}
		t.Fatal("no foot strike angle")
		return form.Measure{}
	}
	without, with := strike(Who{HeightM: r.HeightM}), strike(Who{HeightM: r.HeightM, Flat: flat})
	want, _ := truth.Value("foot_strike_angle", "deg", form.Right)
	if with.SD >= without.SD || with.Low > want.Value || with.High < want.Value || !strings.Contains(with.Note, "standing check") {
		t.Errorf("with standing %.2f ± %.2f (%s), without %.2f ± %.2f, truth %.2f", with.Value, with.SD, with.Note, without.Value, without.SD, want.Value)
	}
	other := *flat
	other.Network = "heavy" // points of another making are no reference
	if m := strike(Who{HeightM: r.HeightM, Flat: &other}); m.Value != without.Value {
		t.Errorf("a network's flat foot was used for points from elsewhere: %+v", m)
	}
	p.View = form.ViewFront
	if FlatFeet(p) != nil {
		t.Error("a front view has a flat foot")
	}
}

// The leg network's points lie elsewhere on the shoe than a whole-body
// network's, so that neither's flat foot is a reference for the other.
func TestFlatFeetOfOneKind(t *testing.T) {
	heavy := &Flat{Network: "heavy", Legs: &Flat{Network: "full+legs"}}
	for _, c := range []struct {
		of   *Flat
		run  string
		want *Flat
	}{
		{heavy, "full+heavy", heavy}, {heavy, "full+legs", heavy.Legs}, {heavy, "", nil},
		{&Flat{Network: "heavy"}, "full+legs", nil}, {heavy.Legs, "heavy", nil},
		{&Flat{}, "a digitiser", &Flat{}}, {nil, "full+legs", nil},
	} {
		if got := c.of.alike(c.run); (got == nil) != (c.want == nil) || got != nil && got.Network != c.want.Network {
			t.Errorf("for %q of %+v: %+v", c.run, c.of, got)
		}
	}
}
