package cli

import (
	"bytes"
	"path/filepath"

	"plumbstride/internal/beside"
	"plumbstride/internal/check"
	"plumbstride/internal/paper"
	"plumbstride/internal/track"
)

// file is a result to be written.
type file struct {
	path    string
	content []byte
}

// The names of what --out leaves in its folder.
const (
	pageName   = "card.html"
	sheetName  = "card.pdf"
	objectName = "check.json"
	trackName  = "track.csv"
	backName   = "track-behind.csv"
)

// places are the paths of all files that will be written.
func (v *checkVerb) places() []string {
	var paths []string
	if v.Track != "" {
		paths = append(paths, v.Track)
	}
	if v.Out != "" {
		for _, name := range []string{pageName, sheetName, objectName, trackName} {
			if name == trackName && v.Accelerometer {
				continue // a recording has no body points
			}
			paths = append(paths, filepath.Join(v.Out, name))
		}
		if v.Back != "" {
			paths = append(paths, filepath.Join(v.Out, backName))
		}
		paths = append(paths, filepath.Join(v.Out, strideName))
		for _, phase := range beside.Phases() {
			paths = append(paths, filepath.Join(v.Out, "stride-"+phaseName(phase)+".jpg"))
		}
	}
	return paths
}

// results makes every file that was asked for, in memory, so that each can
// be put in its place whole.
func (v *checkVerb) results(out *check.Outcome, object []byte) ([]file, error) {
	var files []file
	var points bytes.Buffer
	if (v.Out != "" || v.Track != "") && !v.Accelerometer {
		if err := track.Write(&points, out.Track); err != nil {
			return nil, err
		}
	}
	if v.Track != "" {
		files = append(files, file{v.Track, points.Bytes()})
	}
	if v.Out == "" {
		return files, nil
	}
	options := paper.Options{Page: paper.Page(v.Page), Units: v.Units, Words: v.book}
	var page, sheet bytes.Buffer
	if err := paper.HTML(&page, out.Card, options); err != nil {
		return nil, err
	}
	if err := paper.PDF(&sheet, out.Card, options); err != nil {
		return nil, err
	}
	if out.BackTrack != nil {
		var behind bytes.Buffer
		if err := track.Write(&behind, *out.BackTrack); err != nil {
			return nil, err
		}
		files = append(files, file{filepath.Join(v.Out, backName), behind.Bytes()})
	}
	files = append(files,
		file{filepath.Join(v.Out, pageName), page.Bytes()},
		file{filepath.Join(v.Out, sheetName), sheet.Bytes()},
		file{filepath.Join(v.Out, objectName), object})
	if !v.Accelerometer {
		files = append(files, file{filepath.Join(v.Out, trackName), points.Bytes()})
	}
	stride, err := strideFiles(v.Out, out)
	return append(files, stride...), err
}
