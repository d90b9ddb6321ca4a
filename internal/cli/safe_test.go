package cli

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

func TestPrintable(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"run.mp4", "run.mp4"},
		{"läufer 二.mp4", "läufer 二.mp4"},
		{"a\x1b[2Jb", `a\x1b[2Jb`},
		{"a\r\nb", `a\x0d\x0ab`},
		{"a\u202egpj.mp4", `a\u{202e}gpj.mp4`},
		{"a\u200bb", `a\u{200b}b`},
		{"a\xffb", `a\xffb`},
		{"a\u0085b", `a\u{85}b`},
	} {
		if got := printable(tt.in); got != tt.want {
			t.Errorf("printable(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

// FuzzPrintable holds that nothing but printing characters comes out.
func FuzzPrintable(f *testing.F) {
	f.Add("a\x1b]0;title\x07b")
	f.Add("\u202e\xc3\x28")
	f.Fuzz(func(t *testing.T, s string) {
		out := printable(s)
		if !utf8.ValidString(out) || strings.ContainsFunc(out, func(r rune) bool { return !unicode.IsPrint(r) }) {
			t.Errorf("printable(%q) = %q", s, out)
		}
	})
}
