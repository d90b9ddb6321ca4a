package measure

import (
	"bufio"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

type vec3 [3]float64

type bone struct {
	name     string
	parent   int
	offset   vec3
	channels []string
}

// readBVH gives the bones and the channel values of each frame.
func readBVH(t testing.TB, path string) ([]bone, [][]float64) {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := bufio.NewScanner(f)
	in.Buffer(make([]byte, 1<<20), 1<<20)
	var bones []bone
	var frames [][]float64
	stack := []int{}
	motion := false
	for in.Scan() {
		w := strings.Fields(in.Text())
		switch {
		case len(w) == 0:
		case motion:
			if v, err := strconv.ParseFloat(w[0], 64); err == nil && len(w) > 3 {
				row := []float64{v}
				for _, x := range w[1:] {
					v, _ := strconv.ParseFloat(x, 64)
					row = append(row, v)
				}
				frames = append(frames, row)
			}
		case w[0] == "ROOT" || w[0] == "JOINT" || w[0] == "End":
			b := bone{name: w[1], parent: -1}
			if n := len(stack); n > 0 {
				b.parent = stack[n-1]
			}
			if w[0] == "End" {
				b.name = bones[b.parent].name + "End"
			}
			bones = append(bones, b)
		case w[0] == "{":
			stack = append(stack, len(bones)-1)
		case w[0] == "}":
			stack = stack[:len(stack)-1]
		case w[0] == "OFFSET":
			for i := range 3 {
				bones[len(bones)-1].offset[i], _ = strconv.ParseFloat(w[i+1], 64)
			}
		case w[0] == "CHANNELS":
			bones[len(bones)-1].channels = w[2:]
		case w[0] == "MOTION":
			motion = true
		}
	}
	return bones, frames
}

type mat [3][3]float64

func (a mat) times(b mat) (c mat) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

func (a mat) apply(v vec3) (out vec3) {
	for i := range 3 {
		for k := range 3 {
			out[i] += a[i][k] * v[k]
		}
	}
	return out
}

func turn(axis byte, deg float64) mat {
	s, c := math.Sincos(geom.Radians(deg))
	switch axis {
	case 'X':
		return mat{{1, 0, 0}, {0, c, -s}, {0, s, c}}
	case 'Y':
		return mat{{c, 0, s}, {0, 1, 0}, {-s, 0, c}}
	default:
		return mat{{c, -s, 0}, {s, c, 0}, {0, 0, 1}}
	}
}

// place gives every bone's position in metres: 1 unit = 56.44 mm.
func placeBones(bones []bone, row []float64) map[string]vec3 {
	const unit = 0.05644
	out := map[string]vec3{}
	turns, spots := make([]mat, len(bones)), make([]vec3, len(bones))
	k := 0
	for i, b := range bones {
		r, at := mat{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, b.offset
		for _, ch := range b.channels {
			v := row[k]
			k++
			if strings.HasSuffix(ch, "position") {
				at[ch[0]-'X'] += v
			} else {
				r = r.times(turn(ch[0], v))
			}
		}
		if b.parent >= 0 {
			moved := turns[b.parent].apply(at)
			for j := range 3 {
				at[j] = spots[b.parent][j] + moved[j]
			}
			r = turns[b.parent].times(r)
		}
		turns[i], spots[i] = r, at
		out[b.name] = vec3{at[0] * unit, at[1] * unit, at[2] * unit}
	}
	return out
}

// cmuTrack projects a recording to the plane of travel, 300 pixels a metre.
// The recordings have no heel; the ankle stands in.
func cmuTrack(t testing.TB, path string) form.Track {
	bones, frames := readBVH(t, path)
	frames = frames[1:] // frame 0 is a T-pose
	first, last := placeBones(bones, frames[0])["Hips"], placeBones(bones, frames[len(frames)-1])["Hips"]
	dx, dz := last[0]-first[0], last[2]-first[2]
	n := math.Hypot(dx, dz)
	names := map[form.Point]string{
		form.Knee: "Leg", form.Ankle: "Foot", form.Toe: "ToeBaseEnd",
		form.Elbow: "ForeArm", form.Wrist: "Hand",
	}
	tr := form.Track{RateHz: 120, View: form.ViewSide, Facing: form.Right}
	for i, row := range frames {
		at := placeBones(bones, row)
		f := form.Frame{Time: float64(i) / 120}
		put := func(j form.Joint, v vec3) {
			x := ((v[0]-first[0])*dx + (v[2]-first[2])*dz) / n
			f.Spots[j] = form.Spot{X: 300 * x, Y: 900 - 300*v[1], Confidence: 1}
		}
		for p, name := range names {
			put(form.At(p, form.Left), at["Left"+name])
			put(form.At(p, form.Right), at["Right"+name])
		}
		// The recordings' truth takes the trunk from the root between the hips
		// to the neck: in this skeleton the thighs begin 10 cm below and 4 cm
		// ahead of the root, and the arms behind the neck.
		put(form.At(form.Hip, form.Left), at["Hips"])
		put(form.At(form.Hip, form.Right), at["Hips"])
		put(form.At(form.Shoulder, form.Left), at["Neck"])
		put(form.At(form.Shoulder, form.Right), at["Neck"])
		put(form.At(form.Ear, form.Left), at["Head"])
		put(form.At(form.Ear, form.Right), at["Head"])
		tr.Frames = append(tr.Frames, f)
	}
	return tr
}

// CMU Graphics Lab Motion Capture Database, mocap.cs.cmu.edu (NSF
// EIA-0196217). Its truth: footfalls to 1–2 frames of 120 Hz, trunk lean
// hips→neck.
func TestMotionCaptureRunsAndWalks(t *testing.T) {
	dir := testkit.OpenData(t, "cmu-mocap")
	f, err := os.Open(filepath.Join(dir, "truth.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		name, kind := row[0], row[1]
		falls, _ := strconv.ParseFloat(row[6], 64)
		rate, _ := strconv.ParseFloat(row[8], 64)
		lean, _ := strconv.ParseFloat(row[10], 64)
		t.Run(name, func(t *testing.T) {
			g, err := gait.Analyse(track.Smooth(cmuTrack(t, filepath.Join(dir, name))), gait.Facts{HeightM: 1.75})
			if kind == "walk" {
				if err == nil || !strings.Contains(err.Error(), "walking") {
					t.Errorf("a walk gave %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			measures, refused := All(g, Who{HeightM: 1.75})
			t.Logf("refused: %v", refused)
			// Two frames more or less over the steps between the footfalls.
			slack := rate * rate / 60 * (2.0 / 120) / (falls - 1)
			for _, m := range measures {
				switch m.Name {
				case "cadence":
					t.Logf("cadence %.1f, truth %.1f ± %.1f", m.Value, rate, slack)
					if math.Abs(m.Value-rate) > slack {
						t.Errorf("cadence %.1f steps/min, truth %.1f ± %.1f", m.Value, rate, slack)
					}
				case "trunk_lean":
					t.Logf("trunk lean %.2f, truth %.2f", m.Value, lean)
					if math.Abs(m.Value-lean) > 2 {
						t.Errorf("trunk lean %.2f°, truth %.2f°", m.Value, lean)
					}
				}
			}
		})
	}
}
