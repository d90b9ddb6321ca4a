package stand

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// Somebody stands while, as shares of the body's height in the picture, no
// ankle strays by more than feetStray and no hip or shoulder by more than
// trunkStray between blocks of blockS seconds, and no ankle moves by more
// than blockStray within one. Quiet standing sways by about 1 cm (from
// memory); the feet of a runner move by half a body height.
const (
	blockS     = 0.25
	feetStray  = 0.03
	trunkStray = 0.05
	blockStray = 0.02
)

// Quiet is the longest time in which nobody moves: the frames From ≤ i < To,
// and the share of the clip's frames with somebody in them that they are.
type Quiet struct {
	From, To int
	Share    float64
}

// watched are the joints that must stay where they are.
var watched = [...]form.Point{form.Ankle, form.Hip, form.Shoulder}

// block is a stretch of frames: each watched joint's median place, NaN where
// it was not seen, and whether the feet kept still.
type block struct {
	from, to int
	seen     int
	still    bool
	at       [len(watched)][2][2]float64
}

// FindQuiet gives the longest quiet time of a track. A track of one frame is
// quiet.
func FindQuiet(t form.Track) Quiet {
	size := bodyPx(t)
	var all int
	blocks := blocksOf(t, size)
	for _, b := range blocks {
		all += b.seen
	}
	var best Quiet
	for i := range blocks {
		n := 0
		for j := i; j < len(blocks) && blocks[j].still && together(blocks[i:j+1], size); j++ {
			n += blocks[j].seen
			if share := float64(n) / float64(max(all, 1)); share > best.Share {
				best = Quiet{blocks[i].from, blocks[j].to, share}
			}
		}
	}
	return best
}

// blocksOf cuts the track.
func blocksOf(t form.Track, size float64) []block {
	var out []block
	for from := 0; from < len(t.Frames); {
		to := from + 1
		for to < len(t.Frames) && t.Frames[to].Time < t.Frames[from].Time+blockS {
			to++
		}
		out = append(out, newBlock(t.Frames, from, to, size))
		from = to
	}
	return out
}

func newBlock(frames []form.Frame, from, to int, size float64) block {
	b := block{from: from, to: to, still: true}
	for i := from; i < to; i++ {
		if frames[i].Spot(form.Hip, form.Left).Seen() || frames[i].Spot(form.Hip, form.Right).Seen() {
			b.seen++
		}
	}
	for p, pt := range watched {
		for s, side := range sides {
			var x, y []float64
			for i := from; i < to; i++ {
				if spot := frames[i].Spot(pt, side); spot.Seen() {
					x, y = append(x, spot.X), append(y, spot.Y)
				}
			}
			b.at[p][s] = [2]float64{signal.Median(x), signal.Median(y)}
			if pt == form.Ankle && math.Max(signal.RobustSD(x), signal.RobustSD(y)) > blockStray*size {
				b.still = false
			}
		}
	}
	b.still = b.still && b.seen > 0
	return b
}

// together tells whether the blocks show one stance.
func together(blocks []block, size float64) bool {
	for p, pt := range watched {
		limit := trunkStray * size
		if pt == form.Ankle {
			limit = feetStray * size
		}
		for s := range sides {
			for k := range 2 {
				lo, hi := math.Inf(1), math.Inf(-1)
				for i := range blocks {
					if v := blocks[i].at[p][s][k]; !math.IsNaN(v) {
						lo, hi = math.Min(lo, v), math.Max(hi, v)
					}
				}
				if hi-lo > limit {
					return false
				}
			}
		}
	}
	return true
}

// bodyPx is the median height of the points in the picture, pixels.
func bodyPx(t form.Track) float64 {
	var heights []float64
	for i := range t.Frames {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, s := range t.Frames[i].Spots {
			if s.Seen() {
				lo, hi = math.Min(lo, s.Y), math.Max(hi, s.Y)
			}
		}
		if hi > lo {
			heights = append(heights, hi-lo)
		}
	}
	if len(heights) == 0 {
		return 0
	}
	return signal.Median(heights)
}

// usualShare is the share of a clip that must be quiet for it to be taken
// for one of somebody standing.
const usualShare = 0.6

// IsStanding tells whether a track shows somebody standing still.
func IsStanding(t form.Track) bool { return FindQuiet(t).Share >= usualShare }
