// Package home takes the environment and gives the user's data folder and
// what lies where in it: everything of a shop in one place, to be copied or
// deleted as one.
package home

import (
	"os"
	"path/filepath"
	"runtime"

	"plumbstride/internal/form"
)

// Variable names the data folder where it is not the usual one.
const Variable = "PLUMBSTRIDE_HOME"

// Folder is the data folder's path.
type Folder string

// Find gives the data folder: the one that Variable names, or the system's
// place for a user's data. It does not make it.
func Find(env func(string) string) (Folder, error) { return find(env, runtime.GOOS) }

func find(env func(string) string, system string) (Folder, error) {
	if dir := env(Variable); dir != "" {
		full, err := filepath.Abs(dir)
		if err != nil {
			return "", form.MissingError("the folder %q that %s names can't be used: %w", dir, Variable, err)
		}
		return Folder(full), nil
	}
	home := env("HOME")
	base, name := "", "plumbstride"
	switch {
	case system == "windows":
		base, name = env("LOCALAPPDATA"), "Plumbstride"
	case system == "darwin" && home != "":
		base, name = filepath.Join(home, "Library", "Application Support"), "Plumbstride"
	case filepath.IsAbs(env("XDG_DATA_HOME")): // XDG Base Directory Specification
		base = env("XDG_DATA_HOME")
	case home != "":
		base = filepath.Join(home, ".local", "share")
	}
	if base == "" {
		return "", form.MissingError("there is no place for this user's data; name a folder with %s", Variable)
	}
	return Folder(filepath.Join(base, name)), nil
}

// Database is the file of the records.
func (f Folder) Database() string { return filepath.Join(string(f), "plumbstride.db") }

// Media is the folder of clips and pictures.
func (f Folder) Media() string { return filepath.Join(string(f), "media") }

// Certificate is the folder of the certificate and its key.
func (f Folder) Certificate() string { return filepath.Join(string(f), "certificate") }

// Used tells whether there are records in it.
func (f Folder) Used() bool {
	_, err := os.Stat(f.Database())
	return err == nil
}
