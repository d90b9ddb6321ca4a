package pose

import (
	"testing"

	"plumbstride/internal/form"
)

// A smooth track leaves no doubt; an exchange, and one point that jumps, leave
// doubt in their frames and the ones beside them only.
func TestDoubtful(t *testing.T) {
	g := gaitCase{strideHz: 1.4, fps: 60, seconds: 4, noise: 1, facing: 1, seed: 5}
	track := g.track()
	// A line on from two places doubts the sharpest turns of the motion too,
	// but no more than a tenth of all frames.
	base, n := doubtful(track), 0
	for _, doubt := range base {
		if doubt {
			n++
		}
	}
	if n > len(base)/10 {
		t.Errorf("%d of %d frames of a smooth track are in doubt", n, len(base))
	}
	for i := 100; i < 103; i++ {
		exchangeJoints(&track.Frames[i].Spots, exchangedLegs)
	}
	toe := landmarkJoint(t, "left toe")
	track.Frames[200].Spots[toe].X += 0.3 * testLeg
	found := doubtful(track)
	for _, i := range []int{99, 100, 101, 102, 103, 199, 200, 201} {
		if !found[i] {
			t.Errorf("frame %d is not in doubt", i)
		}
	}
	more := 0
	for i := range found {
		if found[i] && !base[i] {
			more++
		}
	}
	if more > 16 {
		t.Errorf("%d more frames are in doubt", more)
	}
}

func landmarkJoint(t *testing.T, name string) int {
	t.Helper()
	for j := range landmarkOf {
		if form.Joint(j).String() == name {
			return j
		}
	}
	t.Fatalf("no joint %q", name)
	return 0
}

func TestFindLooksAgainWhereInDoubt(t *testing.T) {
	calm := find(t, newStage(2, theRunner), Options{})
	jumpy := theRunner
	jumpy.stride = func(t float64) float64 {
		ahead := running(t)
		if int(t*30)%20 == 10 {
			ahead += 0.4
		}
		return ahead
	}
	r := find(t, newStage(2, jumpy), Options{})
	if r.LookedTwice <= calm.LookedTwice || r.LookedTwice == len(r.Track.Frames) {
		t.Errorf("%d frames were looked at twice where the feet jump, %d where they do not", r.LookedTwice, calm.LookedTwice)
	}
}
