package pose

import (
	"encoding/json"
	"flag"
	"fmt"
	"iter"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/testkit"
)

// The study compares networks, regions and samplings on clips with exact
// truth: go test ./internal/pose -run Study -study [-study.clips GLOB]
// [-study.setups NAMES] -v
var (
	studyOn     = flag.Bool("study", false, "run the study of networks and regions on the rendered clips")
	studyClips  = flag.String("study.clips", "*_m_*_[0-9]*.mp4", "which rendered clips, a pattern")
	studySetups = flag.String("study.setups", "", "which set-ups, names with commas; all if empty")
	studyDrawn  = flag.Int("study.invented", 0, "so many clips of the invented runner instead of the rendered ones")
	studyDetail = flag.Bool("study.detail", false, "print every joint for each set-up")
)

// setup is one way from frame to points.
type setup struct {
	name       string
	net        string
	tracked    bool    // the region comes from the frame before, by the same network
	factor     float64 // side of the region over the body's size
	upright    bool    // the region is not turned with the body
	halveAbove float64
	doubt      bool    // join the mirror image where the legs are in doubt
	flip       bool    // join the picture and its mirror image
	second     float64 // the mirror image's region is so much larger; 0 the same
	unmirrored bool    // join two regions, no mirror image
	looks      int     // at the heat map; 0 without it
}

func studyList() []setup {
	base := setup{factor: measureFactor, halveAbove: defaultHalveAbove, looks: mapLooks}
	var list []setup
	for _, net := range []string{"full", "heavy", "lite"} {
		add := func(name string, change func(*setup)) {
			s := base
			s.net, s.name = net, net+name
			change(&s)
			list = append(list, s)
		}
		add("", func(*setup) {})
		add("-raw", func(s *setup) { s.looks = 0 })
		add("-tracked", func(s *setup) { s.tracked = true })
		add("-upright", func(s *setup) { s.upright = true })
		add("-2.25", func(s *setup) { s.factor = 2.25 })
		add("-2.0", func(s *setup) { s.factor = 2.0 })
		add("-2.0-upright", func(s *setup) { s.factor, s.upright = 2.0, true })
		add("-2.75", func(s *setup) { s.factor = 2.75 })
		add("-bilinear", func(s *setup) { s.halveAbove = 1e9 })
		add("-soft", func(s *setup) { s.halveAbove = 1.0 })
		add("-look1", func(s *setup) { s.looks = 1 })
		add("-2.5", func(s *setup) { s.factor = 2.5 })
		add("-3.0", func(s *setup) { s.factor = 3.0 })
		add("-twice-larger", func(s *setup) { s.flip, s.second = true, 1.15 })
		add("-larger", func(s *setup) { s.flip, s.second, s.unmirrored = true, 1.15, true })
		add("-doubt", func(s *setup) { s.doubt = true })
		add("-twice", func(s *setup) { s.flip = true })
	}
	return list
}

// truthClip is a rendered clip's truth.
type truthClip struct {
	name   string
	facing float64 // +1 to the right
	scale  float64 // metres per pixel
	pixels []map[string][2]float64
	stance [2][]bool // left, right
	strike [2][]bool // frames next to a contact
}

func readTruth(t testing.TB, path string) *truthClip {
	t.Helper()
	base := strings.TrimSuffix(path, ".mp4")
	tr := &truthClip{name: filepath.Base(base)}
	var num, den float64
	for _, f := range testkit.RenderedJoints(t, filepath.Dir(base), tr.name) {
		tr.pixels = append(tr.pixels, f.Px)
		const high, low = "left_shoulder", "left_ankle"
		up, down := f.M[high][1]-f.M[low][1], f.Px[low][1]-f.Px[high][1]
		num += up * down
		den += down * down
	}
	tr.scale = num / den
	readTruthEvents(t, base, tr)
	return tr
}

func readTruthEvents(t testing.TB, base string, tr *truthClip) {
	t.Helper()
	text, err := os.ReadFile(base + ".truth.json")
	if err != nil {
		t.Fatal(err)
	}
	type event struct {
		Time float64 `json:"time_s"`
	}
	var doc struct {
		FPS     float64 `json:"fps"`
		Persons []struct {
			Yaw     float64 `json:"yaw_deg"`
			Contact map[string]struct {
				Contacts []event `json:"contacts"`
				ToeOffs  []event `json:"toe_offs"`
				Duration float64 `json:"contact_time_s"`
			} `json:"contact"`
		} `json:"persons"`
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	tr.facing = 1
	if ahead := tr.pixels[0]["nose"][0] - tr.pixels[0]["left_ear"][0] + tr.pixels[0]["nose"][0] - tr.pixels[0]["right_ear"][0]; ahead < 0 {
		tr.facing = -1
	}
	for s, side := range []string{"left", "right"} {
		tr.stance[s], tr.strike[s] = make([]bool, len(tr.pixels)), make([]bool, len(tr.pixels))
		c := doc.Persons[0].Contact[side]
		for _, e := range c.Contacts {
			for k := range tr.pixels {
				time := float64(k) / doc.FPS
				if time >= e.Time && time <= e.Time+c.Duration {
					tr.stance[s][k] = true
				}
				if math.Abs(time-e.Time) <= 0.51/doc.FPS {
					tr.strike[s][k] = true
				}
			}
		}
	}
}

// followed runs the following alone and gives the smoothed region of every
// frame.
func followed(t testing.TB, nets Networks, frames []*clip.Frame) []Region {
	t.Helper()
	detector, err := nets.Open("detector")
	if err != nil {
		t.Fatal(err)
	}
	defer detector.Close()
	light, err := nets.Open("lite")
	if err != nil {
		t.Fatal(err)
	}
	defer light.Close()
	fo := newFollower(detector, light)
	for i, f := range frames {
		if _, err := fo.step(f); err != nil {
			t.Fatal(err)
		}
		if err := fo.lookBack(frames[max(0, i-mostPending):i]); err != nil {
			t.Fatal(err)
		}
	}
	regions := make([]Region, len(frames))
	if runner := chooseRunner(fo.people, nil); runner != nil {
		for i, f := range frames {
			regions[i] = runner.regionAt(f.Time)
		}
	}
	return regions
}

// runSetup gives each frame's points, in pixels, and their landmarks.
func runSetup(t testing.TB, nets Networks, frames []*clip.Frame, regions []Region, s setup) []*Crop {
	t.Helper()
	crops := make([]*Crop, len(frames))
	work := func(from, every int) {
		session, err := nets.Open(s.net)
		if err != nil {
			t.Error(err)
			return
		}
		defer session.Close()
		cut := newSampler()
		cut.halveAbove = s.halveAbove
		pic, input := newPicture(cropSize), make([]float32, 3*cropSize*cropSize)
		tint := palette{low: 0, high: 1}
		var next Region
		for i := from; i < len(frames); i += every {
			r := regions[i]
			r.Side *= s.factor / bodyFactor
			if s.tracked && !next.None() {
				r = next
			}
			if s.upright {
				r.Angle = 0
			}
			if r.None() {
				continue
			}
			cut.sample(frames[i], r, pic)
			tint.fill(input, pic)
			out, err := session.Run(input)
			if err != nil {
				t.Error(err)
				return
			}
			b, err := decodeBody(out, s.looks)
			if err != nil {
				t.Error(err)
				return
			}
			if s.flip {
				r2 := r
				if s.second > 0 {
					r2.Side *= s.second
					cut.sample(frames[i], r2, pic)
					tint.fill(input, pic)
				}
				if !s.unmirrored {
					mirror(input)
				}
				out, err = session.Run(input)
				if err != nil {
					t.Error(err)
					return
				}
				m, err := decodeBody(out, s.looks)
				if err != nil {
					t.Error(err)
					return
				}
				if !s.unmirrored {
					m = m.mirrored()
				}
				for k := range m.points {
					m.points[k].x, m.points[k].y = r.Inverse(r2.At(m.points[k].x, m.points[k].y))
				}
				b = join(b, m)
			}
			crops[i] = &Crop{Frame: i, Region: r, scale: 1, seen: &b}
			if next = b.next(r, s.factor); b.presence < presentAbove {
				next = Region{}
			}
		}
	}
	if s.doubt {
		return lookAgain(t, nets, frames, regions, s)
	}
	if s.tracked {
		work(0, 1)
		return crops
	}
	var all sync.WaitGroup
	for k := range runtime.NumCPU() {
		all.Go(func() { work(k, runtime.NumCPU()) })
	}
	all.Wait()
	return crops
}

// lookAgain takes the crops looked at once, and those looked at twice where
// the legs are in doubt.
func lookAgain(t testing.TB, nets Networks, frames []*clip.Frame, regions []Region, s setup) []*Crop {
	s.doubt = false
	crops := runSetup(t, nets, frames, regions, s)
	s.flip = true
	raw := form.Track{Frames: make([]form.Frame, len(frames))}
	for i, c := range crops {
		raw.Frames[i] = form.Frame{Time: frames[i].Time}
		if c != nil {
			raw.Frames[i] = c.frame(frames[i].Time)
		}
	}
	twice, n := runSetup(t, nets, frames, regions, s), 0
	for i, doubt := range doubtful(raw) {
		if doubt {
			crops[i] = twice[i]
			n++
		}
	}
	fmt.Printf("looked twice at %d of %d frames\n", n, len(frames))
	return crops
}

// tally is a mean and a standard deviation in the making.
type tally struct{ n, sum, squares float64 }

func (a *tally) add(x float64) {
	a.n++
	a.sum += x
	a.squares += x * x
}
func (a *tally) mean() float64 { return a.sum / a.n }
func (a *tally) sd() float64   { return math.Sqrt(math.Max(0, a.squares/a.n-a.mean()*a.mean())) }
func (a *tally) String() string {
	if a == nil || a.n == 0 {
		return "      –     "
	}
	return fmt.Sprintf("%+5.1f ±%4.1f", a.mean(), a.sd())
}

// report collects one set-up's errors, by what is measured; clips is the mean
// of each clip, whose spread a calibration can't take away.
type report struct {
	all   map[string]*tally
	clips map[string]*tally
}

func (r *report) add(key string, x float64) {
	if r.all[key] == nil {
		r.all[key] = new(tally)
	}
	r.all[key].add(x)
}

func merge(into *report, one *report) {
	for key, v := range one.all {
		if into.all[key] == nil {
			into.all[key], into.clips[key] = new(tally), new(tally)
		}
		into.all[key].n += v.n
		into.all[key].sum += v.sum
		into.all[key].squares += v.squares
		into.clips[key].add(v.mean())
	}
}

func newReport() *report { return &report{map[string]*tally{}, map[string]*tally{}} }

var studyJoints = []string{"nose", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe"}

// judge compares a set-up's crops with the truth.
func judge(tr *truthClip, frames []*clip.Frame, crops []*Crop) *report {
	raw := form.Track{Frames: make([]form.Frame, len(frames))}
	for i, c := range crops {
		raw.Frames[i] = form.Frame{Time: frames[i].Time}
		if c != nil {
			raw.Frames[i] = c.frame(frames[i].Time)
		}
	}
	kept, _ := KeepSides(raw)
	r := newReport()
	for i := range kept.Frames {
		if i >= len(tr.pixels) {
			break
		}
		found := 0.0
		if kept.Frames[i].Spots[0].Seen() {
			found = 100
		}
		r.add("found %", found)
		if found == 0 {
			continue
		}
		r.add("exchanged before %", 100*exchangedIn(tr, i, &raw.Frames[i]))
		r.add("exchanged after %", 100*exchangedIn(tr, i, &kept.Frames[i]))
		judgeJoints(r, tr, i, &kept.Frames[i])
		judgeAngles(r, tr, i, &kept.Frames[i])
	}
	return r
}

// exchangedIn is 1 where the ankles and feet lie nearer to the other leg's.
func exchangedIn(tr *truthClip, i int, f *form.Frame) float64 {
	same, other := 0.0, 0.0
	for _, p := range []form.Point{form.Ankle, form.Heel, form.Toe} {
		for _, s := range []form.Side{form.Left, form.Right} {
			spot := f.Spot(p, s)
			a, b := tr.pixels[i][s.String()+"_"+p.String()], tr.pixels[i][s.Other().String()+"_"+p.String()]
			same += math.Hypot(spot.X-a[0], spot.Y-a[1])
			other += math.Hypot(spot.X-b[0], spot.Y-b[1])
		}
	}
	if other < same && (same-other)*tr.scale > 0.3 { // less is no matter
		return 1
	}
	return 0
}

func judgeJoints(r *report, tr *truthClip, i int, f *form.Frame) {
	for j, spot := range f.Spots {
		joint := form.Joint(j)
		name := strings.ReplaceAll(joint.String(), " ", "_")
		want, ok := tr.pixels[i][name]
		if !ok {
			continue
		}
		near := "near"
		if (joint.Side() == form.Left) == (tr.facing > 0) {
			near = "far"
		}
		ahead := (spot.X - want[0]) * tr.scale * tr.facing * 100
		up := (want[1] - spot.Y) * tr.scale * 100
		point := joint.Point().String()
		phases := []string{"all"}
		s := 0
		if joint.Side() == form.Right {
			s = 1
		}
		if tr.stance[s][i] {
			phases = append(phases, "stance")
		}
		if tr.strike[s][i] {
			phases = append(phases, "contact")
		}
		for _, phase := range phases {
			if math.Hypot(ahead, up) > 25 {
				r.add(point+" gross % "+phase, 100)
				continue
			}
			r.add(point+" gross % "+phase, 0)
			r.add(point+" ahead "+phase, ahead)
			r.add(point+" up "+phase, up)
			r.add(point+" ahead "+phase+" "+near, ahead)
			r.add(point+" up "+phase+" "+near, up)
		}
	}
}

// judgeAngles compares a frame's angles with those of the true points.
func judgeAngles(r *report, tr *truthClip, i int, f *form.Frame) {
	truth := func(p form.Point, s form.Side) [2]float64 { return tr.pixels[i][s.String()+"_"+p.String()] }
	seen := func(p form.Point, s form.Side) [2]float64 {
		spot := f.Spot(p, s)
		return [2]float64{spot.X, spot.Y}
	}
	mid := func(at func(form.Point, form.Side) [2]float64, p form.Point) [2]float64 {
		a, b := at(p, form.Left), at(p, form.Right)
		return [2]float64{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
	}
	lean := func(at func(form.Point, form.Side) [2]float64) float64 {
		h, s := mid(at, form.Hip), mid(at, form.Shoulder)
		return math.Atan2(tr.facing*(s[0]-h[0]), h[1]-s[1]) * 180 / math.Pi
	}
	r.add("trunk lean °", lean(seen)-lean(truth))
	for s, side := range []form.Side{form.Left, form.Right} {
		knee := func(at func(form.Point, form.Side) [2]float64) float64 {
			return flexion(at(form.Hip, side), at(form.Knee, side), at(form.Ankle, side))
		}
		foot := func(at func(form.Point, form.Side) [2]float64) float64 {
			h, t := at(form.Heel, side), at(form.Toe, side)
			return math.Atan2(h[1]-t[1], tr.facing*(t[0]-h[0])) * 180 / math.Pi
		}
		reach := func(at func(form.Point, form.Side) [2]float64) float64 {
			return (at(form.Ankle, side)[0] - mid(at, form.Hip)[0]) * tr.facing * tr.scale * 100
		}
		wrapped := func(a float64) float64 { return wrapAngle(a*math.Pi/180) * 180 / math.Pi }
		if tr.strike[s][i] {
			r.add("knee at contact °", knee(seen)-knee(truth))
			r.add("foot angle at contact °", wrapped(foot(seen)-foot(truth)))
			r.add("ankle − hips at contact cm", reach(seen)-reach(truth))
		}
		if tr.stance[s][i] && tr.flat(s, i, foot(truth)) {
			r.add("foot angle when flat °", wrapped(foot(seen)-foot(truth)))
		}
	}
}

// flat tells whether the foot is flat on the ground in a frame: well within
// a stance and its true heel and toe nearly level.
func (tr *truthClip) flat(s, i int, angle float64) bool {
	level := -2.0
	if strings.HasPrefix(tr.name, "invented") {
		level = 0
	}
	return i > 1 && tr.stance[s][i-2] && math.Abs(angle-level) < 2.5
}

func flexion(a, b, c [2]float64) float64 {
	v := math.Atan2(a[1]-b[1], a[0]-b[0]) - math.Atan2(c[1]-b[1], c[0]-b[0])
	return 180 - math.Abs(wrapAngle(v))*180/math.Pi
}

func TestStudy(t *testing.T) {
	if !*studyOn {
		t.Skip("the study runs only when asked for: -study")
	}
	nets := networks(t)
	setups := studyList()
	if *studySetups != "" {
		names := strings.Split(*studySetups, ",")
		setups = slices.DeleteFunc(setups, func(s setup) bool { return !slices.Contains(names, s.name) })
	}
	reports := map[string]*report{}
	for path, tr := range studyMaterial(t) {
		frames := readFrames(t, path)
		regions := followed(t, nets, frames)
		for _, s := range setups {
			if reports[s.name] == nil {
				reports[s.name] = newReport()
			}
			one := judge(tr, frames, runSetup(t, nets, frames, regions, s))
			merge(reports[s.name], one)
			fmt.Printf("%-26s %-20s", tr.name, s.name)
			for _, key := range studyKeys {
				fmt.Printf("  %s", one.all[key])
			}
			fmt.Println()
		}
	}
	fmt.Println()
	for _, s := range setups {
		printReport(s.name, reports[s.name])
	}
}

// studyMaterial gives the clips of the study with their truth.
func studyMaterial(t *testing.T) iter.Seq2[string, *truthClip] {
	return func(yield func(string, *truthClip) bool) {
		for seed := range *studyDrawn {
			if path, tr := inventedClip(t, uint64(seed)); !yield(path, tr) {
				return
			}
		}
		if *studyDrawn > 0 {
			return
		}
		paths, err := filepath.Glob(filepath.Join(testkit.OpenData(t, "rendered-clips"), *studyClips))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range paths {
			if _, err := os.Stat(strings.TrimSuffix(path, ".mp4") + ".truth.csv.gz"); err != nil {
				continue
			}
			if !yield(path, readTruth(t, path)) {
				return
			}
		}
	}
}

var studyKeys = []string{"found %", "exchanged before %", "exchanged after %", "trunk lean °", "knee at contact °",
	"foot angle at contact °", "foot angle when flat °", "ankle − hips at contact cm"}

func printReport(name string, r *report) {
	fmt.Printf("== %s\n", name)
	for _, key := range studyKeys {
		fmt.Printf("   %-28s %s   between clips ±%.1f\n", key, r.all[key], r.clips[key].sd())
	}
	fmt.Printf("   %-9s%-40s%-40s%-40s\n", "cm", "all: ahead, up, gross %", "stance", "contact")
	ends := []string{""}
	if *studyDetail {
		ends = []string{"", " near", " far"}
	}
	for _, end := range ends {
		for _, joint := range studyJoints {
			fmt.Printf("   %-9s", joint)
			for _, phase := range []string{"all", "stance", "contact"} {
				gross := r.all[joint+" gross % "+phase]
				if gross == nil {
					continue
				}
				fmt.Printf("%s %s (%4.1f %%) clips ±%.1f ±%.1f   ", r.all[joint+" ahead "+phase+end], r.all[joint+" up "+phase+end], gross.mean(),
					r.clips[joint+" ahead "+phase].sd(), r.clips[joint+" up "+phase].sd())
			}
			fmt.Println(end)
		}
	}
}
