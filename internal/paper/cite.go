package paper

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbstride/internal/card"
	"plumbstride/internal/words"
)

// named is an author or a journal with a year: "Burns et al. 2019".
var named = regexp.MustCompile(`(\p{Lu}[\p{L}'’.-]*)((?: (?:&|et al\.|\p{Lu}[\p{L}'’.-]*))*) ((?:19|20)\d\d)\b`)

// partsOfSource are what a source is told in: works, and the numbers taken
// from them in brackets.
var partsOfSource = regexp.MustCompile(`[;()]| and `)

const citationLimit = 44

// works are the first authors and years that a source names, "Burns 2019",
// and data that have a name and no year.
func works(source string) []string {
	source = strings.TrimPrefix(strings.TrimPrefix(source, "derived from "), "computed from ")
	var out []string
	for _, part := range partsOfSource.Split(source, -1) {
		part = strings.TrimSpace(part)
		first, _ := utf8.DecodeRuneInString(part)
		if m := named.FindStringSubmatch(part); m != nil {
			name := m[1]
			if !strings.HasPrefix(m[2], " &") && !strings.HasPrefix(m[2], " et al.") {
				name += m[2] // a journal or a school, not an author
			}
			out = append(out, card.Clean(name+" "+m[3], citationLimit))
		} else if unicode.IsUpper(first) {
			out = append(out, card.Clean(part, citationLimit))
		}
	}
	return out
}

// cited is one paragraph that names the sources of all bands shortly, for
// paper. It names the measures of which the sources name no work, and those
// where something was cited from memory.
func cited(sources []sourceOf, b words.Book) item {
	var all, other, recalled []string
	unnamed := map[string][]string{}
	for _, s := range sources {
		found := works(s.Source)
		all = append(all, found...)
		if len(found) == 0 {
			short := card.Clean(s.Source, citationLimit)
			if unnamed[short] == nil {
				other = append(other, short)
			}
			unnamed[short] = append(unnamed[short], s.Titles...)
		}
		if strings.Contains(s.Source, "from memory") {
			recalled = append(recalled, s.Titles...)
		}
	}
	var texts []string
	if len(all) > 0 {
		texts = append(texts, b.Say("taken, derived or computed from %s", strings.Join(distinct(all), ", ")))
	}
	for _, short := range other {
		texts = append(texts, short+": "+lowerList(distinct(unnamed[short]), ", ", b))
	}
	if len(recalled) > 0 {
		texts = append(texts, b.Say("partly from memory: %s", lowerList(distinct(recalled), ", ", b)))
	}
	return item{Head: b.Say("Bands:"), Text: strings.Join(texts, "; ") + ". " + b.Say("The card’s page gives each source in full.")}
}

// distinct keeps the first of equal words.
func distinct(words []string) []string {
	var out []string
	for _, word := range words {
		if !slices.Contains(out, word) {
			out = append(out, word)
		}
	}
	return out
}

// spelledOut are the sources of all bands in full, for the page.
func spelledOut(sources []sourceOf, b words.Book) []item {
	var out []item
	for _, s := range sources {
		head := b.Say("Band of %s:", lowerList(s.Titles, "; ", b))
		if len(s.Titles) > 1 {
			head = b.Say("Bands of %s:", lowerList(s.Titles, "; ", b))
		}
		out = append(out, item{Head: head, Text: s.Source + "."})
	}
	return out
}
