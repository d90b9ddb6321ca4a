package pose

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

// gait describes an invented pair of legs that swing in one plane.
type gaitCase struct {
	strideHz, fps, seconds float64
	noise                  float64 // px, each coordinate
	facing, drift          float64 // ±1; px/s of the whole body
	far                    float64 // px by which the far leg is drawn higher
	seed                   uint64
}

const testLeg = 200.0 // px

// legsAt draws legs at a phase of the stride: thigh ±28° about 8° forward,
// knee flexion 15…105° with its peak in mid-swing, as running has them (common
// practice, no source).
func (g gaitCase) legsAt(phase float64) (knee, ankle, heel, toe [2]float64) {
	rad := math.Pi / 180
	thigh := (8 + 28*math.Cos(phase)) * rad
	swing := 0.5 - 0.5*math.Cos(phase+0.35*math.Pi)
	flex := (15 + 90*math.Pow(swing, 2)) * rad
	shank := thigh - flex
	knee = [2]float64{math.Sin(thigh) * testLeg / 2, math.Cos(thigh) * testLeg / 2}
	ankle = [2]float64{knee[0] + math.Sin(shank)*testLeg/2, knee[1] + math.Cos(shank)*testLeg/2}
	foot := shank * 0.6
	heel = [2]float64{ankle[0] - 0.08*testLeg*math.Cos(foot), ankle[1] + 0.06*testLeg}
	toe = [2]float64{ankle[0] + 0.2*testLeg*math.Cos(foot), ankle[1] + 0.06*testLeg + 0.2*testLeg*math.Sin(-foot)}
	return knee, ankle, heel, toe
}

func (g gaitCase) track() form.Track {
	rnd := rand.New(rand.NewPCG(g.seed, 7))
	n := int(g.seconds * g.fps)
	track := form.Track{RateHz: g.fps, Frames: make([]form.Frame, n)}
	for t := range n {
		f := &track.Frames[t]
		f.Time = float64(t) / g.fps
		put := func(p form.Point, s form.Side, x, y float64) {
			f.Spots[form.At(p, s)] = form.Spot{
				X: 500 + g.drift*f.Time + g.facing*x + g.noise*rnd.NormFloat64(),
				Y: 300 + y + g.noise*rnd.NormFloat64(), Confidence: 0.9,
			}
		}
		for s, side := range []form.Side{form.Left, form.Right} {
			up := -g.far * float64(s)
			knee, ankle, heel, toe := g.legsAt(2*math.Pi*g.strideHz*f.Time + math.Pi*float64(s))
			put(form.Hip, side, 0, up)
			put(form.Knee, side, knee[0], knee[1]+up)
			put(form.Ankle, side, ankle[0], ankle[1]+up)
			put(form.Heel, side, heel[0], heel[1]+up)
			put(form.Toe, side, toe[0], toe[1]+up)
		}
	}
	return track
}

func drawGait(t *rapid.T) gaitCase {
	return gaitCase{
		strideHz: rapid.Float64Range(1.15, 1.7).Draw(t, "strideHz"),
		fps:      rapid.SampledFrom([]float64{30, 50, 60, 120, 240}).Draw(t, "fps"),
		seconds:  rapid.Float64Range(2.5, 7).Draw(t, "seconds"),
		noise:    rapid.Float64Range(0, 0.02*testLeg).Draw(t, "noise"),
		facing:   rapid.SampledFrom([]float64{-1, 1}).Draw(t, "facing"),
		drift:    rapid.SampledFrom([]float64{0, 0, -600, 600}).Draw(t, "drift"),
		far:      rapid.Float64Range(0, 6).Draw(t, "far"),
		seed:     rapid.Uint64().Draw(t, "seed"),
	}
}

func TestKeepSidesNeverChangesACorrectTrack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		track := drawGait(t).track()
		kept, repair := KeepSides(track)
		if repair.Frames != 0 {
			t.Fatalf("%d frames of a correct track were exchanged", repair.Frames)
		}
		for i := range kept.Frames {
			if kept.Frames[i] != track.Frames[i] {
				t.Fatalf("frame %d of a correct track was changed", i)
			}
		}
	})
}

// ankleGap is the distance of the ankles in leg lengths.
func ankleGap(f *form.Frame) float64 {
	a, b := f.Spot(form.Ankle, form.Left), f.Spot(form.Ankle, form.Right)
	return math.Hypot(a.X-b.X, a.Y-b.Y) / testLeg
}

func TestKeepSidesRepairsExchanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGait(t)
		track := g.track()
		wrong := form.Track{Frames: append([]form.Frame(nil), track.Frames...)}
		n := len(track.Frames)
		longest := max(1, int(0.1*g.fps)) // networks exchange the legs for some frames
		for range rapid.IntRange(1, 4).Draw(t, "exchanges") {
			from := rapid.IntRange(0, n-1).Draw(t, "from")
			length := rapid.IntRange(1, longest).Draw(t, "length")
			state := rapid.SampledFrom([]int{exchangedFeet, exchangedLegs}).Draw(t, "state")
			for i := from; i < min(n, from+length); i++ {
				wrong.Frames[i] = track.Frames[i]
				exchangeJoints(&wrong.Frames[i].Spots, state)
			}
		}
		kept, _ := KeepSides(wrong)
		for i := range kept.Frames {
			// While the ankles all but coincide, it does not matter.
			if ankleGap(&track.Frames[i]) < 0.25 {
				continue
			}
			for _, s := range []form.Side{form.Left, form.Right} {
				if got, want := kept.Frames[i].Spot(form.Ankle, s), track.Frames[i].Spot(form.Ankle, s); got != want {
					t.Fatalf("frame %d of %d: the %s ankle is at %.0f, %.0f and not at %.0f, %.0f", i, n, s, got.X, got.Y, want.X, want.Y)
				}
			}
		}
	})
}

func TestKeepSidesLeavesOthersAlone(t *testing.T) {
	standing := gaitCase{strideHz: 0, fps: 30, seconds: 3, noise: 1, facing: 1, seed: 1}.track()
	short := gaitCase{strideHz: 1.4, fps: 60, seconds: 0.05, facing: 1, seed: 1}.track()
	gaps := gaitCase{strideHz: 1.4, fps: 60, seconds: 4, facing: 1, seed: 1}.track()
	for i := range gaps.Frames {
		if i%50 < 20 {
			gaps.Frames[i].Spots = [form.NumJoints]form.Spot{}
		}
	}
	for name, track := range map[string]form.Track{"standing": standing, "two frames": short, "gaps": gaps, "empty": {}, "nothing seen": {Frames: make([]form.Frame, 9)}} {
		if _, repair := KeepSides(track); repair.Frames != 0 || repair.Share != 0 {
			t.Errorf("%s: %d frames were exchanged", name, repair.Frames)
		}
	}
}

func TestKeepSidesKeepsItsInput(t *testing.T) {
	track := gaitCase{strideHz: 1.4, fps: 60, seconds: 3, facing: 1, seed: 3}.track()
	for i := 60; i < 64; i++ {
		exchangeJoints(&track.Frames[i].Spots, exchangedLegs)
	}
	before := append([]form.Frame(nil), track.Frames...)
	if _, repair := KeepSides(track); repair.Frames == 0 {
		t.Error("an exchange of four frames was not found")
	}
	for i := range before {
		if before[i] != track.Frames[i] {
			t.Fatalf("frame %d of the input was changed", i)
		}
	}
}

func BenchmarkKeepSides(b *testing.B) {
	track := gaitCase{strideHz: 1.4, fps: 60, seconds: 10, noise: 2, facing: 1, seed: 3}.track()
	for b.Loop() {
		KeepSides(track)
	}
}
