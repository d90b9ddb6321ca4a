package words

import (
	"slices"
	"strings"

	"golang.org/x/text/language"
)

// Preferred gives the language of the catalogue that suits best whoever
// sends the header Accept-Language (RFC 9110, 12.5.4; matched as in RFC 4647
// and by CLDR), or otherwise the given one, which may be empty for English.
func Preferred(header string, otherwise Language) Language {
	if otherwise == "" {
		otherwise = English
	}
	wanted, _, err := language.ParseAcceptLanguage(header)
	if err != nil || len(wanted) == 0 {
		return otherwise
	}
	var tags []language.Tag
	for _, l := range Languages() {
		tags = append(tags, language.Make(string(l)))
	}
	_, i, sure := language.NewMatcher(tags).Match(wanted...)
	if sure < language.High {
		return otherwise
	}
	return Languages()[i]
}

// OfLocale gives the language of the catalogue that a POSIX locale names:
// German for "de_AT.UTF-8". Whatever else it is, English.
func OfLocale(locale string) Language {
	tag, _, _ := strings.Cut(locale, ".")
	tag, _, _ = strings.Cut(tag, "@")
	tag, _, _ = strings.Cut(tag, "_")
	if l := Language(strings.ToLower(tag)); slices.Contains(Languages(), l) {
		return l
	}
	return English
}
