package cli

import (
	"os"
	"path/filepath"
	"testing"

	"plumbstride/internal/form"
)

// Whatever lies in a folder in place of the stride's list and picture, it is
// read, left out or refused in a sentence; nothing outside is opened.
func FuzzReadStills(f *testing.F) {
	f.Add([]byte(`[{"phase":"toe-off","side":"left","time_s":1,"file":"stride-toe-off.jpg","place":{"XX":1,"YY":1}}]`), []byte("\xff\xd8\xff\xe0"))
	f.Add([]byte(`[{"phase":"toe-off","file":"../stride.json"}]`), []byte{})
	f.Add([]byte(`{}`), []byte{})
	f.Fuzz(func(t *testing.T, list, picture []byte) {
		dir := t.TempDir()
		for name, text := range map[string][]byte{strideName: list, "stride-toe-off.jpg": picture} {
			if err := os.WriteFile(filepath.Join(dir, name), text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		stills, err := readStills(dir)
		if err != nil && form.CodeOf(err) != form.CodeClip {
			t.Fatalf("%v is no sentence for a coach", err)
		}
		for _, s := range stills {
			if s.Image == nil {
				t.Fatal("a still without a picture")
			}
		}
	})
}
