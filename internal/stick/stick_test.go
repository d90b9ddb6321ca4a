package stick

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func anyPose(t *rapid.T) Pose {
	angle := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
	leg := func(name string) Leg {
		return Leg{angle(name+" thigh", -120, 140), angle(name+" knee", -5, 150), angle(name+" ankle", -55, 40), angle(name+" toes", -20, 80)}
	}
	arm := func(name string) Arm {
		return Arm{angle(name+" shoulder", -75, 190), angle(name+" elbow", 0, 155)}
	}
	return Pose{
		Caption: "any", Trunk: angle("trunk", -130, 100), Head: angle("head", -45, 50), Lift: angle("lift", 0, 30),
		Near: leg("near"), Far: leg("far"), NearArm: arm("near"), FarArm: arm("far"),
		Props: rapid.SliceOfN(rapid.SampledFrom(Props()), 0, 6).Draw(t, "props"),
	}
}

// segment is the length of a limb's line.
func segment(l Line) float64 {
	return math.Hypot(l.Points[1].X-l.Points[0].X, l.Points[1].Y-l.Points[0].Y)
}

// Whatever the pose: limbs keep the lengths of Drillis & Contini 1966 (thigh
// 0.245, shank 0.246, upper arm 0.186, hip to shoulder 0.818 − 0.530 of body
// height), nothing lies under the ground, and the lowest point stands at the
// lift.
func TestAnyPose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPose(t)
		f := Solve(p)
		lengths := map[Part][]float64{}
		lowest := f.Head.Y - f.HeadR
		for _, l := range f.Lines {
			if l.Part != NearLimb && l.Part != FarLimb && l.Part != Body {
				continue
			}
			if !l.Filled {
				lengths[l.Part] = append(lengths[l.Part], segment(l))
			}
			for _, q := range l.Points {
				lowest = math.Min(lowest, q.Y)
			}
		}
		for _, part := range []Part{NearLimb, FarLimb} {
			want := []float64{0.152 - heelBack - ballFore, 0.246, 0.245, 0.146 + 0.054, 0.186}
			for i, w := range want {
				if math.Abs(lengths[part][i]-w) > 1e-9 {
					t.Fatalf("limb %d of part %d is %.4f long, want %.4f", i, part, lengths[part][i], w)
				}
			}
		}
		if math.Abs(lengths[Body][0]-(0.818-0.530)) > 1e-9 {
			t.Fatalf("trunk of %.4f", lengths[Body][0])
		}
		if lowest < p.Lift/100-1e-9 || lowest > p.Lift/100+0.035 {
			t.Fatalf("the lowest point is at %.4f, lift %.4f", lowest, p.Lift/100)
		}
	})
}

// A body standing straight is as high as a body: 0.039 + 0.246 + 0.245 + 0.288
// to the shoulder is 0.818, and the head's top at 0.997.
func TestStandingHeight(t *testing.T) {
	f := Solve(Pose{Caption: "standing"})
	if math.Abs(f.Head.Y+f.HeadR-0.997-0.014) > 1e-6 { // the sole's half width is 0.014
		t.Errorf("%.4f high", f.Head.Y+f.HeadR)
	}
}

func TestCheck(t *testing.T) {
	sound := Pose{Caption: "x", Near: Leg{23, 17, 4, 0}, Far: Leg{-2, 88, -20, 0}}
	if err := sound.Check(); err != nil {
		t.Error(err)
	}
	for name, spoil := range map[string]func(*Pose){
		"knee the wrong way": func(p *Pose) { p.Near.Knee = -20 },
		"folded too far":     func(p *Pose) { p.Near.Thigh, p.Trunk = 100, 60 },
		"ankle":              func(p *Pose) { p.Far.Ankle = 60 },
		"elbow":              func(p *Pose) { p.NearArm.Elbow = -5 },
		"no number":          func(p *Pose) { p.Head = math.NaN() },
		"lift":               func(p *Pose) { p.Lift = 200 },
		"prop":               func(p *Pose) { p.Props = []Prop{"horse"} },
	} {
		p := sound
		spoil(&p)
		if p.Check() == nil {
			t.Errorf("%s passes", name)
		}
	}
}

func TestJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPose(t)
		text, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		var back Pose
		if err := json.Unmarshal(text, &back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(back)
		if err != nil || string(again) != string(text) {
			t.Fatalf("%s came back as %s (%v)", text, again, err)
		}
	})
}

func FuzzPose(f *testing.F) {
	f.Add([]byte(`{"caption":"x","near":[1,2,3],"far":[1,2,3,4],"near_arm":[1,2],"far_arm":[3,4],"props":["plumb"]}`))
	f.Add([]byte(`{"near":[1e309]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var p Pose
		if json.Unmarshal(data, &p) != nil || p.Check() != nil {
			return
		}
		if f := Solve(p); !(f.Top < 4 && f.Top > 0 && f.Right > f.Left && f.Right-f.Left < 5) {
			t.Errorf("%+v", f)
		}
	})
}
