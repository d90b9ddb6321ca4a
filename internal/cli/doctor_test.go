package cli

import (
	"testing"

	"plumbstride/internal/words"

	"github.com/google/go-cmp/cmp"
)

func TestDiagnosis(t *testing.T) {
	text, missing := diagnosis([]finding{
		{Name: "network full", OK: true, Detail: "models/full.onnx"},
		{Name: "ffmpeg", Detail: "not on the path", Fix: "Install it with your system's package manager, for instance so: do this, then that, and then try once more."},
		{Name: "folder of the networks", OK: true, Detail: "cache\x1b[2J"},
	}, 0, words.Book{})
	golden(t, "doctor.txt", text)
	if diff := cmp.Diff([]string{"ffmpeg"}, missing); diff != "" {
		t.Error(diff)
	}
}
