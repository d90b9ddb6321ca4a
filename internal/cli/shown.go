package cli

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/settings"
	"plumbstride/internal/words"
)

// shown says how results are shown. What is not stated is taken from the
// settings file, and else the environment's language, metric and A4.
type shown struct {
	Language words.Language `group:"The result:" enum:",en,es,de" default:"" placeholder:"en|es|de" help:"The language of what is shown: English, Spanish or German; JSON stays as it is."`
	Units    quantity.Units `group:"The result:" enum:",metric,us" default:"" placeholder:"metric|us" help:"The units of what is shown; the numbers of JSON are always SI."`
	Page     string         `group:"The result:" enum:",A4,Letter" default:"" placeholder:"A4|Letter" help:"The paper."`
	Settings string         `group:"The result:" placeholder:"FILE" help:"A settings file: the shop, language, units, paper. Without it, the one that PLUMBSTRIDE_SETTINGS names or settings.json in your configuration folder, if there is one."`

	book words.Book
	shop settings.Settings
}

// settle reads the settings and fills in what was not stated. From then on
// the errand speaks the language.
func (s *shown) settle(e *errand) (err error) {
	if s.shop, err = readSettings(s.Settings); err != nil {
		return err
	}
	if s.Language == "" {
		s.Language = s.shop.Language
	}
	if s.Units == "" {
		s.Units = s.shop.Units
	}
	if s.Units == "" {
		s.Units = quantity.Metric
	}
	if s.Page == "" {
		s.Page = s.shop.Page
	}
	if s.Page == "" {
		s.Page = "A4"
	}
	if s.Language != "" {
		e.book, err = words.In(s.Language)
	}
	s.book = e.book
	return err
}

// settingsVariable names a settings file in the environment.
const settingsVariable = "PLUMBSTRIDE_SETTINGS"

// readSettings reads the settings file that was named, or the usual one if
// it is there.
func readSettings(path string) (settings.Settings, error) {
	stated := path != ""
	if !stated {
		path, stated = os.Getenv(settingsVariable), os.Getenv(settingsVariable) != ""
	}
	if path == "" {
		dir, err := os.UserConfigDir()
		if err != nil {
			return settings.Settings{}, nil // no such folder, no settings
		}
		path = filepath.Join(dir, "plumbstride", "settings.json")
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) && !stated {
		return settings.Settings{}, nil
	}
	if err != nil {
		return settings.Settings{}, form.UsageError("the settings %s can't be read: %w", path, err)
	}
	s, err := settings.Parse(data)
	if err != nil {
		return s, form.UsageError("%s: %w", path, err)
	}
	return s, nil
}
