package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image/jpeg"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/beside"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/track"
)

// strideName is the list of the stride's pictures that check --out leaves.
const strideName = "stride.json"

// strideStill is one picture of the near foot's stride, as it is listed.
type strideStill struct {
	Phase string     `json:"phase"`
	Side  form.Side  `json:"side"`
	TimeS float64    `json:"time_s"`
	File  string     `json:"file"`
	Place card.Place `json:"place"`
}

// strideFiles are the pictures of the near foot's initial contact, mid-stance
// and toe-off, and their list, for a comparison with a later check; none
// without pictures.
func strideFiles(dir string, out *check.Outcome) ([]file, error) {
	near, err := form.ParseSide(out.Card.Clip.Facing)
	if err != nil || len(out.Stills) == 0 {
		return nil, nil
	}
	first := math.Inf(1)
	for _, s := range out.Stills {
		if s.Side == near {
			first = math.Min(first, s.TimeS)
		}
	}
	var files []file
	list := []strideStill{}
	for _, p := range card.Phases(out.Card.Events, near, first, out.Card.Clip.SlowedBy) {
		s := stillNear(out.Stills, near, p.TimeS)
		if s == nil || phaseName(p.Name) == "" {
			continue
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, s.Image, &jpeg.Options{Quality: 88}); err != nil {
			return nil, fmt.Errorf("writing a picture of the stride: %w", err)
		}
		one := strideStill{Phase: p.Name, Side: near, TimeS: s.TimeS, File: "stride-" + phaseName(p.Name) + ".jpg", Place: s.Place}
		files, list = append(files, file{filepath.Join(dir, one.File), b.Bytes()}), append(list, one)
	}
	if len(list) == 0 {
		return nil, nil
	}
	object, err := indented(list)
	return append(files, file{filepath.Join(dir, strideName), object}), err
}

func stillNear(all []check.Still, side form.Side, at float64) (best *check.Still) {
	for i := range all {
		if s := &all[i]; s.Side == side && (best == nil || math.Abs(s.TimeS-at) < math.Abs(best.TimeS-at)) {
			best = s
		}
	}
	return best
}

// phaseName is a phase in a file's name, "" for one that is not shown.
func phaseName(phase string) string {
	for _, p := range beside.Phases() {
		if p == phase {
			return strings.ReplaceAll(p, " ", "-")
		}
	}
	return ""
}

// What a folder's pictures may be: more is none that check --out left.
const (
	maxStrideBytes = 1 << 20
	maxStillBytes  = 16 << 20
	maxStillSide   = 8192
)

// readRun reads what a folder of check --out holds beside its check: the
// track, and the pictures of a stride where there are any. ok is false for a
// single file, or a folder without a track.
func readRun(dir string, c card.Card) (run beside.Run, ok bool, err error) {
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return run, false, nil
	}
	f, err := os.Open(filepath.Join(dir, trackName))
	if errors.Is(err, fs.ErrNotExist) {
		return run, false, nil
	}
	if err != nil {
		return run, false, form.ClipError("the track in %s can't be read: %w", printable(dir), err)
	}
	defer f.Close()
	points, err := track.Read(f)
	if err != nil {
		return run, false, form.ClipError("the track in %s: %w", printable(dir), err)
	}
	run = beside.Run{Card: c, Track: points}
	run.Stills, err = readStills(dir)
	return run, err == nil, err
}

func readStills(dir string) ([]beside.Still, error) {
	text, err := readSome(filepath.Join(dir, strideName), maxStrideBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, form.ClipError("%s in %s can't be read: %w", strideName, printable(dir), err)
	}
	var list []strideStill
	if err := json.Unmarshal(text, &list); err != nil {
		return nil, form.ClipError("%s in %s is not what check --out leaves; check the clip again", strideName, printable(dir))
	}
	var out []beside.Still
	for _, one := range list {
		if phaseName(one.Phase) == "" || one.File != "stride-"+phaseName(one.Phase)+".jpg" {
			continue // nothing else is opened, whatever the list says
		}
		data, err := readSome(filepath.Join(dir, one.File), maxStillBytes)
		if errors.Is(err, fs.ErrNotExist) {
			continue // taken out by the coach
		}
		if err != nil {
			return nil, form.ClipError("the picture %s in %s can't be read: %w", one.File, printable(dir), err)
		}
		size, err := jpeg.DecodeConfig(bytes.NewReader(data))
		if err != nil || size.Width > maxStillSide || size.Height > maxStillSide {
			return nil, form.ClipError("%s in %s is no picture of check --out; take it away, or check the clip again", one.File, printable(dir))
		}
		img, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil {
			return nil, form.ClipError("%s in %s is no whole picture; take it away, or check the clip again", one.File, printable(dir))
		}
		out = append(out, beside.Still{Side: one.Side, TimeS: one.TimeS, Place: one.Place, Image: img})
	}
	return out, nil
}

// readSome reads a file of at most so many bytes.
func readSome(path string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > most {
		return nil, fmt.Errorf("it is larger than %d bytes, or no file", most)
	}
	return os.ReadFile(path)
}
