package measure

import (
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// seenErrors is what the usual networks, with the leg network's points, made
// of one clip: by point, of the near (0) and of the far (1) side.
type seenErrors map[form.Point]*[2]testkit.PointError

// pointBank is what they made of the clips of each hand that drew them. hands
// holds the means over the stride; along is what is left of them at each place
// in the stride, of the invented runners alone: their stride and their shoes
// are those that the errors are laid on.
type pointBank struct {
	hands [][]seenErrors
	along []seenErrors
}

// split takes each clip's errors apart: the mean over the stride, and the rest.
func (c seenErrors) split() (mean, rest seenErrors) {
	mean, rest = seenErrors{}, seenErrors{}
	for pt, both := range c {
		m, r := *both, *both
		for s := range both {
			var sum geom.Vec
			for _, v := range both[s].Mean {
				sum = sum.Add(v.Scale(1.0 / testkit.StrideKnots))
			}
			for k := range m[s].Mean {
				m[s].Mean[k], r[s].Mean[k] = sum, both[s].Mean[k].Sub(sum)
			}
		}
		mean[pt], rest[pt] = &m, &r
	}
	return mean, rest
}

// legPointBank reads the errors of testdata/leg-points.csv.
var legPointBank = sync.OnceValues(func() (pointBank, error) {
	f, err := os.Open(filepath.Join("testdata", "leg-points.csv"))
	if err != nil {
		return pointBank{}, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return pointBank{}, err
	}
	clips, hands := map[string]seenErrors{}, map[string][]string{}
	for _, r := range rows[1:] { // clip, hand, point, side, noise, memory, gross, x0, y0, …
		if clips[r[0]] == nil {
			clips[r[0]] = seenErrors{}
			hands[r[1]] = append(hands[r[1]], r[0])
		}
		pt, err := form.ParsePoint(r[2])
		if err != nil {
			return pointBank{}, err
		}
		both := clips[r[0]][pt]
		if both == nil {
			both = &[2]testkit.PointError{}
			clips[r[0]][pt] = both
		}
		e := &both[0]
		if r[3] == "far" {
			e = &both[1]
		}
		var v [3 + 2*testkit.StrideKnots]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(r[4+i], 64); err != nil {
				return pointBank{}, err
			}
		}
		e.Noise, e.Memory, e.Gross = v[0]/1e4, v[1], v[2]
		for k := range e.Mean {
			e.Mean[k] = geom.Vec{X: v[3+2*k], Y: v[4+2*k]}.Scale(1e-4)
		}
	}
	names := make([]string, 0, len(hands))
	for h := range hands {
		names = append(names, h)
	}
	sort.Strings(names)
	var bank pointBank
	for _, h := range names {
		var of []seenErrors
		for _, c := range hands[h] {
			mean, rest := clips[c].split()
			of = append(of, mean)
			if h == "invented" {
				bank.along = append(bank.along, rest)
			}
		}
		bank.hands = append(bank.hands, of)
	}
	return bank, nil
})

// draw makes the errors of a clip that nobody drew: normal about the mean of
// the hands, as far from it as they are, and from there as far as a hand's
// clips are from each other – all points together, as the clips had them.
func (b pointBank) draw(rng *rand.Rand) seenErrors {
	share := 1 / float64(len(b.hands))
	toHand, mean := make([]float64, len(b.hands)), 0.0
	for h := range toHand {
		toHand[h] = rng.NormFloat64() * math.Sqrt(share)
		mean += toHand[h] * share
	}
	out := seenErrors{}
	for h, clips := range b.hands {
		for i, w := range about(len(clips), math.Sqrt(share), rng) {
			w += (share + toHand[h] - mean) / float64(len(clips))
			out.add(clips[i], w, share/float64(len(clips)))
		}
	}
	for i, w := range about(len(b.along), 1, rng) {
		out.add(b.along[i], w+1/float64(len(b.along)), 0)
	}
	for pt := range out { // a point that a hand has no truth of is taken as it is
		for _, clips := range b.hands {
			if clips[0][pt] == nil {
				delete(out, pt)
				break
			}
		}
	}
	return out
}

// about draws weights of n values: their sum with them is normal about 0, with
// the values' standard deviation times sd.
func about(n int, sd float64, rng *rand.Rand) []float64 {
	out, mean := make([]float64, n), 0.0
	for i := range out {
		out[i] = rng.NormFloat64() * sd / math.Sqrt(float64(n-1))
		mean += out[i] / float64(n)
	}
	for i := range out {
		out[i] -= mean
	}
	return out
}

// add adds another's mean errors times w, and its noise times share.
func (e seenErrors) add(other seenErrors, w, share float64) {
	for pt, both := range other {
		sum := e[pt]
		if sum == nil {
			sum = &[2]testkit.PointError{}
			e[pt] = sum
		}
		for s := range both {
			for k, v := range both[s].Mean {
				sum[s].Mean[k] = sum[s].Mean[k].Add(v.Scale(w))
			}
			sum[s].Noise += share * both[s].Noise
			sum[s].Memory += share * both[s].Memory
			sum[s].Gross += share * both[s].Gross
		}
	}
}

// seeAs moves every point of a case to where the networks would have put it.
// The track is changed.
func seeAs(c studyCase, errs seenErrors, rng *rand.Rand) {
	px := pxPerM(c) * c.HeightM
	near := c.Track.Facing
	var times [3]testkit.StrideTimes
	for _, s := range []form.Side{form.Left, form.Right} {
		times[s] = testkit.TimesOf(c.Events, s).CarriedOn()
	}
	exact := append([]form.Frame(nil), c.Track.Frames...)
	for j := range form.Joint(form.NumJoints) {
		both := errs[j.Point()]
		if both == nil {
			continue
		}
		side, e := j.Side(), &both[0]
		if side != form.Left && side != form.Right {
			side = near
		}
		if side != near {
			e = &both[1]
		}
		keep := math.Pow(e.Memory, 60/c.Track.RateHz)
		noise := geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64()}
		for i := range c.Track.Frames {
			f, was := &c.Track.Frames[i], &exact[i]
			fresh := geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64()}
			noise = noise.Scale(keep).Add(fresh.Scale(math.Sqrt(1 - keep*keep)))
			if other := was.Spot(j.Point(), side.Other()); rng.Float64() < e.Gross && other.Seen() {
				f.Spots[j].X, f.Spots[j].Y = other.X, other.Y
			}
			knot, _ := times[side].Knot(f.Time)
			v := e.At(knot).Add(noise.Scale(e.Noise)).Scale(px)
			if axis, ok := testkit.LimbAxis(j, was, near, c.Roll); ok {
				v = testkit.Across(v, axis)
			}
			v = testkit.Pictured(v, near, c.Roll)
			f.Spots[j].X, f.Spots[j].Y = f.Spots[j].X+v.X, f.Spots[j].Y+v.Y
		}
	}
}

// pxPerM is the size of the picture, from the trunk's height.
func pxPerM(c studyCase) float64 {
	size := 0.0
	for i := range c.Track.Frames {
		f := &c.Track.Frames[i]
		if a, b := f.Spot(form.Shoulder, c.Track.Facing), f.Spot(form.Hip, c.Track.Facing); a.Seen() && b.Seen() {
			size = math.Max(size, math.Hypot(a.X-b.X, a.Y-b.Y)/(0.288*c.HeightM))
		}
	}
	return size
}

// The mean of many draws is the mean of the hands, and their spread that of
// the clips.
func TestPointBankDraws(t *testing.T) {
	bank := pointBank{}
	for h := range 2 {
		var clips []seenErrors
		for i := range 5 {
			var e [2]testkit.PointError
			e[0].Mean[0] = geom.Vec{X: float64(10*h) + float64(i) - 2}
			clips = append(clips, seenErrors{form.Heel: &e})
		}
		bank.hands = append(bank.hands, clips)
	}
	rng := rand.New(rand.NewPCG(1, 1))
	const n = 20000
	sum, square := 0.0, 0.0
	for range n {
		v := bank.draw(rng)[form.Heel][0].Mean[0].X
		sum, square = sum+v, square+v*v
	}
	mean := sum / n
	// Two hands 5 from their mean, and clips with a variance of 2.5 in each.
	if sd := math.Sqrt(square/n - mean*mean); math.Abs(mean-5) > 0.15 || math.Abs(sd-math.Sqrt(25+2.5)) > 0.15 {
		t.Errorf("mean %.2f, want 5; sd %.2f, want %.2f", mean, sd, math.Sqrt(27.5))
	}
}

// withoutNoise leaves only the means over the stride and along it.
func (e seenErrors) withoutNoise() seenErrors {
	for _, both := range e {
		for s := range both {
			both[s].Noise, both[s].Gross = 0, 0
		}
	}
	return e
}

// What the leg network's points add to each measure, by the hand that drew the
// clips: the rule by which the table legged was set.
// go test ./internal/measure -run LegPointsAdd -study -runners 200 -v
func TestLegPointsAdd(t *testing.T) {
	if !*writeStudy {
		t.Skip("a study, run on request: -study -v")
	}
	bank, err := legPointBank()
	if err != nil {
		t.Fatal(err)
	}
	added := make([]map[string][]float64, len(bank.hands))
	for h, clips := range bank.hands {
		hand := pointBank{hands: [][]seenErrors{clips}, along: bank.along}
		added[h] = map[string][]float64{}
		for i := range uint64(*runners / camerasEach) {
			for _, c := range drawCases(i) {
				rng := rand.New(rand.NewPCG(47, c.Seed))
				exact, ok := seenMeasures(c, nil, rng)
				seen, ok2 := seenMeasures(c, hand.draw(rng).withoutNoise(), rng)
				for k, v := range seen {
					if w, both := exact[k]; ok && ok2 && both {
						k, _, _ = strings.Cut(k, "|")
						added[h][k] = append(added[h][k], v-w)
					}
				}
			}
		}
	}
	for _, k := range slices.Sorted(maps.Keys(added[0])) {
		name, unit, _ := strings.Cut(k, " ")
		line := fmt.Sprintf("%-32s table %+6.2f ± %.2f", k, legged.of(name, unit).offset, legged.of(name, unit).sd)
		for h := range added {
			mean, _ := signal.MeanSD(added[h][k])
			line += fmt.Sprintf("   hand %d %+7.3f ± %.3f", h+1, mean, signal.RobustSD(added[h][k]))
		}
		t.Log(line)
	}
}

// seenMeasures are the measures of a case without noise, nothing taken off, by
// name, unit and side.
func seenMeasures(c studyCase, errs seenErrors, rng *rand.Rand) (map[string]float64, bool) {
	c.Track.Frames = append([]form.Frame(nil), c.Track.Frames...)
	c.Track.Network = "full+legs"
	if errs != nil {
		seeAs(c, errs, rng)
	}
	g, err := gait.Analyse(track.Smooth(c.Track), gait.Facts{HeightM: c.HeightM, Level: gait.Level{Deg: c.Roll, SD: 0.2, Known: true}})
	if err != nil {
		return nil, false
	}
	k := &kit{g: g, who: Who{HeightM: c.HeightM}, table: body.DeLeva(body.NotStated), bias: biasTable{"flat_foot deg": legged.of("flat_foot", "deg")}, network: true}
	measures, _ := k.all()
	out := map[string]float64{}
	for _, m := range measures {
		out[m.Name+" "+m.Unit+"|"+m.Side.String()] = m.Value
	}
	return out, true
}
