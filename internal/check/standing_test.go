package check

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
)

// standTruth is the truth of a rendered clip of somebody standing, from its
// joints in three dimensions and its JSON, by the definitions of the measures.
func standTruth(t *testing.T, dir, clip string) map[string]float64 {
	at := testkit.RenderedJoints(t, dir, clip)[0].M // nobody moves
	return standTruthOf(t, dir, clip, at)
}

func standTruthOf(t *testing.T, dir, clip string, at map[string][3]float64) map[string]float64 {
	var doc struct {
		Persons []struct {
			Knee   map[string]float64 `json:"knee_flexion_deg"`
			ToeOut map[string]float64 `json:"toe_out_deg"`
			Trunk  float64            `json:"trunk_lean_deg"`
			Ahead  float64            `json:"ear_ahead_of_shoulder_m"`
			Neck   float64            `json:"ear_shoulder_angle_from_vertical_deg"`
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, clip+".truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	person := doc.Persons[0]
	mid := func(name string, axis int) float64 { return (at["left_"+name][axis] + at["right_"+name][axis]) / 2 }
	truth := map[string]float64{
		"trunk_lean_standing deg both": person.Trunk, "head_forward cm both": 100 * person.Ahead,
		"head_forward deg both":           person.Neck - person.Trunk,
		"knee_flexion_standing deg left":  person.Knee["left"],
		"knee_flexion_standing deg right": person.Knee["right"],
		"toe_out deg left":                person.ToeOut["left"],
		"toe_out deg right":               person.ToeOut["right"],
	}
	for _, p := range []string{"ear", "shoulder", "hip", "knee"} {
		truth["plumb_"+p+" cm both"] = 100 * (mid(p, 0) - mid("ankle", 0))
	}
	gap := func(name string) float64 {
		l, r := at["left_"+name], at["right_"+name]
		return math.Hypot(l[0]-r[0], math.Hypot(l[1]-r[1], l[2]-r[2]))
	}
	truth["stance_width – both"] = gap("ankle") / gap("hip")
	for _, p := range []string{"shoulder", "hip"} {
		truth[p+"_level deg both"] = math.Asin((at["left_"+p][1]-at["right_"+p][1])/gap(p)) * 180 / math.Pi
	}
	var pos body.Positions
	var ok body.Present
	for j := range form.Joint(form.NumJoints) {
		v, seen := at[strings.Replace(j.String(), " ", "_", 1)]
		pos[j], ok[j] = [2]float64{v[0], v[1]}, seen
	}
	com, _ := body.DeLeva(body.NotStated).CentreOfMass(&pos, &ok)
	truth["weight_over_foot % both"] = 100 * (com[0] - mid("heel", 0)) / (mid("toe", 0) - mid("heel", 0))
	return truth
}

// The standing clips were drawn by others, with exact truth beside them
// (rendered-clips): offsets within 2.5 cm, angles within 3°, the stance's
// width within 10 %, and every truth in its own interval. The weight over the
// foot, which needs the heel and toe of the shoe, within 8 % of its length.
func TestRenderedStanding(t *testing.T) {
	deps := realDeps(t)
	dir := testkit.OpenData(t, "rendered-clips")
	within := map[string]float64{"cm": 2.5, "deg": 3, "%": 8}
	for _, clip := range []string{"stand_m_side", "stand_m_front"} {
		truth := standTruth(t, dir, clip)
		out, err := Clip(context.Background(), deps, filepath.Join(dir, clip+".mp4"), Ask{HeightM: 1.78})
		if err != nil {
			t.Fatal(err)
		}
		c := out.Card
		if c.Kind != card.Standing || "stand_m_"+c.Clip.View != clip || len(c.Refused) > 0 || len(c.Pictures) != 1 {
			t.Errorf("%s: a %s check, %s view, refused %v, %d pictures", clip, c.Kind, c.Clip.View, c.Refused, len(c.Pictures))
		}
		if n := len(c.Measures); n < 5 {
			t.Errorf("%s: %d measures", clip, n)
		}
		for _, m := range c.Measures {
			key := m.Name + " " + m.Unit + " " + m.Side.String()
			want, ok := truth[key]
			if !ok {
				t.Errorf("no truth of %s", key)
				continue
			}
			limit := within[m.Unit]
			if m.Unit == "–" {
				limit = 0.1 * want
			}
			t.Logf("%-34s %7.2f ± %5.2f  truth %7.2f  error %+.2f", key, m.Value, 1.96*m.SD, want, m.Value-want)
			if math.Abs(m.Value-want) > limit {
				t.Errorf("%s: off by %.2f %s, more than %.2f", key, m.Value-want, m.Unit, limit)
			}
			if want < m.Low || want > m.High {
				t.Errorf("%s: %.2f…%.2f does not hold %.2f", key, m.Low, m.High, want)
			}
			if m.Band == nil || m.Band.Source == "" {
				t.Errorf("%s has no band", key)
			}
		}
	}
}

// stillOf draws an invented person and writes one picture.
func stillOf(t *testing.T, deps Deps, r standin.Runner, cam standin.Camera, scene standin.Scene, name string, args ...string) string {
	t.Helper()
	dir := t.TempDir()
	cam.RateHz = 10
	if _, err := standin.WriteClip(context.Background(), ffmpegOf(deps), filepath.Join(dir, "a.mp4"), r, cam, scene, 0.15, nil, nil); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, name)
	args = append(append([]string{"-v", "error", "-y", "-i", filepath.Join(dir, "a.mp4"), "-frames:v", "1"}, args...), "file:"+out)
	if said, err := exec.Command(ffmpegOf(deps), args...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	return out
}

func ffmpegOf(deps Deps) string {
	if deps.Tools.FFmpeg != "" {
		return deps.Tools.FFmpeg
	}
	return "ffmpeg"
}

func upright(view form.View) (standin.Runner, standin.Camera) {
	r, cam := standin.Stander(), standin.DefaultCamera()
	cam.View, cam.Width, cam.Height, cam.FOVDeg = view, 720, 960, 33
	return r, cam
}

// A still in each format that is read gives the same posture; a JPEG that its
// Exif data turn (CIPA DC-008, orientation 6: 90° clockwise) is turned first.
func TestStills(t *testing.T) {
	deps := realDeps(t)
	r, cam := upright(form.ViewSide)
	cam.Facing = form.Left
	values := map[string]float64{}
	for _, name := range []string{"a.jpg", "a.png", "a.webp", "turned.jpg", "-i.png", "sit still; $(x).jpg"} {
		args := []string{"-q:v", "2"}
		if name == "turned.jpg" {
			args = append(args, "-vf", "transpose=cclock")
		}
		path := stillOf(t, deps, r, cam, standin.DefaultScene(), name, args...)
		if name == "turned.jpg" {
			turnByExif(t, path, 6)
		}
		out, err := Clip(context.Background(), deps, path, Ask{HeightM: r.HeightM})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		c := out.Card
		if c.Kind != card.Standing || c.Clip.Frames != 1 || c.Clip.Facing != "left" || c.Measures[0].N != 1 || !strings.Contains(strings.Join(c.Notes, " "), "one moment") {
			t.Errorf("%s: %+v", name, c.Clip)
		}
		values[name] = value(t, out, "plumb_ear", "cm", form.Both).Value
		if math.Abs(values[name]-values["a.jpg"]) > 1 {
			t.Errorf("%s: ear at %.1f cm, in the JPEG at %.1f cm", name, values[name], values["a.jpg"])
		}
	}
}

// turnByExif puts an Exif segment with an orientation behind the JPEG's
// beginning.
func turnByExif(t *testing.T, path string, orientation byte) {
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	tiff := []byte{'M', 'M', 0, 42, 0, 0, 0, 8, 0, 1, 1, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0, 0, 0, 0, 0}
	segment := append([]byte{0xFF, 0xE1, 0, byte(2 + 6 + len(tiff)), 'E', 'x', 'i', 'f', 0, 0}, tiff...)
	if err := os.WriteFile(path, append(append(bytes.Clone(data[:2]), segment...), data[2:]...), 0o600); err != nil {
		t.Fatal(err)
	}
}

// Pictures from which nothing can be said: each is refused with a reason.
func TestStillsThatCantBeUsed(t *testing.T) {
	deps := realDeps(t)
	r, cam := upright(form.ViewSide)
	pngOf := func(w, h int) []byte {
		img := image.NewPaletted(image.Rect(0, 0, w, h), color.Palette{color.Gray{200}, color.Gray{90}})
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	empty, beside := standin.DefaultScene(), standin.DefaultScene()
	empty.Empty, beside.Bystander = true, true
	file := func(name string, data []byte) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	whole, err := os.ReadFile(stillOf(t, deps, r, cam, standin.DefaultScene(), "whole.png"))
	if err != nil {
		t.Fatal(err)
	}
	cut := cam
	cut.AimYM, cut.FOVDeg = 1.5, 20
	heif := append([]byte{0, 0, 0, 24}, []byte("ftypheic\x00\x00\x00\x00mif1heic")...)
	for name, c := range map[string]struct{ path, want string }{
		"nobody":      {stillOf(t, deps, r, cam, empty, "empty.png"), "nobody was found"},
		"two people":  {stillOf(t, deps, r, standin.DefaultCamera(), beside, "two.png"), "more than one person"},
		"one pixel":   {file("one.png", pngOf(1, 1)), "too small"},
		"too large":   {file("large.png", pngOf(12000, 9000)), "12000 × 9000 pixels"},
		"truncated":   {file("cut.png", whole[:len(whole)/3]), ""},
		"not a PNG":   {file("no.png", []byte("\x89PNG\r\n\x1a\nand then nothing")), ""},
		"legs cut":    {stillOf(t, deps, r, cut, standin.DefaultScene(), "legs.png"), "whole body"},
		"HEIF broken": {file("a.heic", heif), "HEIF"},
	} {
		out, err := Clip(context.Background(), deps, c.path, Ask{HeightM: r.HeightM})
		if code := form.CodeOf(err); code != form.CodeClip && code != form.CodeMissing || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want a sentence with %q (outcome %v)", name, err, c.want, out != nil)
		}
	}
}

// A picture made of several (an animated PNG) is read as its first.
func TestAnimatedPNG(t *testing.T) {
	deps := realDeps(t)
	r, cam := upright(form.ViewFront)
	path := stillOf(t, deps, r, cam, standin.DefaultScene(), "a.png")
	moving := filepath.Join(t.TempDir(), "moving.png")
	if said, err := exec.Command(ffmpegOf(deps), "-v", "error", "-loop", "1", "-i", path, "-frames:v", "3", "-plays", "0", "-f", "apng", moving).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	out, err := Clip(context.Background(), deps, moving, Ask{HeightM: r.HeightM})
	if err != nil {
		if form.CodeOf(err) != form.CodeClip {
			t.Errorf("an animated PNG: %v", err)
		}
		return
	}
	if out.Card.Clip.View != "front" {
		t.Errorf("%+v", out.Card.Clip)
	}
}

// A track of somebody standing is a standing check by itself; one of a runner
// or a walker that is said to stand is refused; said to be a front view of
// somebody seen from the side, too.
func TestStandingTracks(t *testing.T) {
	r, cam := upright(form.ViewSide)
	tr, truth, err := standin.Track(r, cam, 2, rand.New(rand.NewPCG(8, 8)))
	if err != nil {
		t.Fatal(err)
	}
	tr.View = ""
	out, err := checkTrack(t, tr, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	if out.Stand == nil || out.Gait != nil || out.Card.Kind != card.Standing || len(out.Card.Areas) != 1 {
		t.Errorf("%+v", out.Card)
	}
	for _, m := range out.Card.Measures {
		if want, _ := truth.Value(m.Name, m.Unit, m.Side); want.Value < m.Low || want.Value > m.High {
			t.Errorf("%s %s: %.2f…%.2f does not hold %.2f", m.Name, m.Side, m.Low, m.High, want.Value)
		}
	}
	if _, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, View: form.ViewFront}); form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "from the side, not from the front") {
		t.Errorf("a side view said to be a front view: %v", err)
	}
	run, _, runner := invented(t, nil)
	if _, err := checkTrack(t, run, Ask{HeightM: runner.HeightM, Standing: true}); form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "stands still") {
		t.Errorf("a runner said to stand: %v", err)
	}
	walk, _, err := standin.Track(standin.Walker(), standin.DefaultCamera(), 6, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := checkTrack(t, walk, Ask{HeightM: 1.75, Standing: true}); form.CodeOf(err) != form.CodeClip {
		t.Errorf("a walker said to stand: %v", err)
	}
	o, err := checkTrack(t, run, Ask{HeightM: runner.HeightM})
	if err != nil || o.Card.Kind != card.Running || o.Stand != nil {
		t.Errorf("a run: %v", err)
	}
	if o, err = checkTrack(t, tr, Ask{HeightM: r.HeightM, Pain: true}); err != nil || o.Card.Priority.Area != nil || !strings.Contains(o.Card.Priority.Why, "Pain comes first") {
		t.Errorf("with pain: %v", err)
	}
}
