package words

import (
	"embed"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"plumbstride/internal/form"
)

// Language is the tag of a language (BCP 47), as in a page's lang attribute.
type Language string

// The languages.
const (
	English Language = "en"
	Spanish Language = "es"
	German  Language = "de"
)

// Languages gives every language there is, English first.
func Languages() []Language { return []Language{English, Spanish, German} }

//go:embed en.json es.json de.json
var files embed.FS

// Book holds the messages of one language. The zero Book is English. A Book
// doesn't change once it is made.
type Book struct {
	language Language
	whole    map[string]string
	patterns []pattern
}

// In gives the book of a language. A language that there is no file for is a
// form.Error of usage.
func In(l Language) (Book, error) {
	if l == English || l == "" {
		return Book{}, nil
	}
	if !slices.Contains(Languages(), l) {
		return Book{}, form.UsageError("there is no language %q; there are %v", l, Languages())
	}
	data, err := files.ReadFile(string(l) + ".json")
	if err != nil {
		return Book{}, fmt.Errorf("words: %w", err)
	}
	return parse(l, data)
}

// parse reads a language's file: one object, from message to translation.
func parse(l Language, data []byte) (Book, error) {
	messages := map[string]string{}
	if err := json.Unmarshal(data, &messages); err != nil {
		return Book{}, fmt.Errorf("words: the file of %s: %w", l, err)
	}
	return Book{language: l}.With(messages)
}

// With gives a book that knows more messages, from English to the book's
// language: the titles and cues of drills, say. English stays as it is.
func (b Book) With(more map[string]string) (Book, error) {
	if b.Language() == English {
		return b, nil
	}
	out := Book{language: b.language, whole: maps.Clone(b.whole), patterns: slices.Clone(b.patterns)}
	if out.whole == nil {
		out.whole = map[string]string{}
	}
	for _, message := range slices.Sorted(maps.Keys(more)) {
		to := more[message]
		if to == "" {
			continue
		}
		if err := sameVerbs(message, to); err != nil {
			return Book{}, fmt.Errorf("words: %s: %q: %w", b.language, message, err)
		}
		out.whole[message] = to
		if p, ok := newPattern(message, to); ok {
			out.patterns = append(out.patterns, p)
		}
	}
	// What holds more plain letters is tried first: it is the surer match.
	slices.SortStableFunc(out.patterns, func(a, b pattern) int { return b.letters - a.letters })
	return out, nil
}

// Language is the book's language.
func (b Book) Language() Language {
	if b.language == "" {
		return English
	}
	return b.language
}

// Has tells whether the book has a translation of a message.
func (b Book) Has(message string) bool { return b.Language() == English || b.whole[message] != "" }

// Say fills the arguments into a message in the book's language. Numbers are
// written with the language's decimal mark; text is filled in as it is.
func (b Book) Say(message string, args ...any) string {
	if to := b.whole[message]; to != "" {
		message = to
	}
	if len(args) == 0 {
		return strings.ReplaceAll(message, "%%", "%")
	}
	filled := slices.Clone(args)
	for i, a := range filled {
		switch v := a.(type) {
		case float64:
			filled[i] = number{v, b.mark()}
		case float32:
			filled[i] = number{float64(v), b.mark()}
		}
	}
	return fmt.Sprintf(message, filled...)
}

// Each gives every text by Of.
func (b Book) Each(texts []string) []string {
	out := make([]string, len(texts))
	for i, text := range texts {
		out[i] = b.Of(text)
	}
	return out
}
