package cli

import (
	"bytes"
	"path/filepath"

	"plumbstride/internal/check"
	"plumbstride/internal/paper"
	"plumbstride/internal/track"
)

// file is a result to be written.
type file struct {
	path    string
	content []byte
}

// results makes every file that was asked for, in memory, so that each can
// be put in its place whole.
func (v *checkVerb) results(out *check.Outcome, object []byte) ([]file, error) {
	var files []file
	var points bytes.Buffer
	if v.Out != "" || v.Track != "" {
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
	options := paper.Options{Page: paper.Page(v.Page), Units: v.Units}
	var page, sheet bytes.Buffer
	if err := paper.HTML(&page, out.Card, options); err != nil {
		return nil, err
	}
	if err := paper.PDF(&sheet, out.Card, options); err != nil {
		return nil, err
	}
	for name, content := range map[string][]byte{
		"card.html": page.Bytes(), "card.pdf": sheet.Bytes(), "check.json": object, "track.csv": points.Bytes(),
	} {
		files = append(files, file{filepath.Join(v.Out, name), content})
	}
	return files, nil
}
