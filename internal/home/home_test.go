package home

import (
	"os"
	"path/filepath"
	"testing"

	"plumbstride/internal/form"
)

func TestFind(t *testing.T) {
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		system string
		env    map[string]string
		want   string
	}{
		{"linux", map[string]string{"HOME": "/h"}, "/h/.local/share/plumbstride"},
		{"linux", map[string]string{"HOME": "/h", "XDG_DATA_HOME": "/d"}, "/d/plumbstride"},
		{"linux", map[string]string{"HOME": "/h", "XDG_DATA_HOME": "relative"}, "/h/.local/share/plumbstride"},
		{"darwin", map[string]string{"HOME": "/h"}, "/h/Library/Application Support/Plumbstride"},
		{"windows", map[string]string{"LOCALAPPDATA": "/l"}, "/l/Plumbstride"},
		{"linux", map[string]string{"HOME": "/h", Variable: "/shop"}, "/shop"},
		{"linux", map[string]string{Variable: "shop"}, filepath.Join(here, "shop")},
	} {
		got, err := find(func(name string) string { return tt.env[name] }, tt.system)
		if err != nil || string(got) != filepath.FromSlash(tt.want) {
			t.Errorf("%s %v: %s, %v", tt.system, tt.env, got, err)
		}
	}
	for _, system := range []string{"linux", "darwin", "windows"} {
		if _, err := find(func(string) string { return "" }, system); form.CodeOf(err) != form.CodeMissing {
			t.Errorf("%s: %v", system, err)
		}
	}
}

func TestUsed(t *testing.T) {
	f := Folder(t.TempDir())
	if f.Used() {
		t.Error("an empty folder is used")
	}
	if err := os.WriteFile(f.Database(), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if !f.Used() || filepath.Dir(f.Media()) != string(f) || filepath.Dir(f.Certificate()) != string(f) {
		t.Error("the folder's parts lie elsewhere")
	}
}
