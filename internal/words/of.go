package words

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// verb is one place in a message where something is filled in, by the rules
// of package fmt: flags, an explicit index, width, precision, the verb.
var verb = regexp.MustCompile(`%(?:\[(\d+)\])?[+\-#0]*(?:\d+|\*)?(?:\.(?:\d+|\*))?(?:\[(\d+)\])?([a-zA-Z%])`)

// pattern finds a message in a sentence that was made from it. letters is
// how many letters of it are plain.
type pattern struct {
	re      *regexp.Regexp
	to      string
	letters int
	plain   string // its longest plain part, looked for before re
	stop    bool   // it ends with a full stop; others may have one behind them
}

// leastLetters is how many plain letters a message needs before a sentence
// is searched for it.
const leastLetters = 3

// weak is how many plain letters a message needs before a sentence of many
// words may stand in it: "Film %s" is no part of a sentence about filming.
const weak, weakBlanks = 8, 3

// newPattern gives the pattern of a message; ok is false for a message in
// which nothing is filled in, or hardly anything else stands.
func newPattern(message, to string) (p pattern, ok bool) {
	var re strings.Builder
	re.WriteString("^")
	at, filled := 0, false
	plain := func(text string) {
		re.WriteString(regexp.QuoteMeta(text))
		if len(text) > len(p.plain) {
			p.plain = text
		}
		for _, r := range text {
			if unicode.IsLetter(r) {
				p.letters++
			}
		}
	}
	for _, m := range verb.FindAllStringSubmatchIndex(message, -1) {
		plain(message[at:m[0]])
		at = m[1]
		switch message[m[6]:m[7]] {
		case "%":
			plain("%")
			continue
		case "d":
			re.WriteString(`([-−+]?\d+)`)
		case "f", "g", "e":
			re.WriteString(`([-−+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?)`)
		default:
			re.WriteString(`(.*?)`) // what is filled in may be nothing
		}
		filled = true
	}
	plain(message[at:])
	re.WriteString("$")
	if !filled || p.letters < leastLetters {
		return pattern{}, false
	}
	p.re, p.to, p.stop = regexp.MustCompile(re.String()), to, strings.HasSuffix(message, ".")
	return p, true
}

// Of gives a text that was written in English in the book's language: whole,
// by the message it was made from, or sentence by sentence. What no message
// is found for stays as it is.
func (b Book) Of(text string) string {
	if b.Language() == English || text == "" {
		return text
	}
	return b.of(text, maxDepth)
}

// maxDepth is how deep sentences are looked for within sentences.
const maxDepth = 4

func (b Book) of(text string, depth int) string {
	if to, ok := b.find(text, depth); ok {
		return to
	}
	// The longest run of sentences at the beginning that is known, then the
	// rest; a sentence that isn't known stays.
	ends := sentenceEnds(text)
	for _, end := range slices.Backward(ends) {
		if to, ok := b.find(text[:end], depth); ok {
			return to + " " + b.of(strings.TrimLeft(text[end:], " "), depth)
		}
	}
	if b.isFigure(text) {
		return b.part(text, depth)
	}
	if len(ends) == 0 {
		if clauses, ok := b.clauses(text, depth); ok {
			return clauses
		}
	}
	if len(ends) > 0 {
		return text[:ends[0]] + " " + b.of(strings.TrimLeft(text[ends[0]:], " "), depth)
	}
	return text
}

// strange tells whether a part of many words is none that the book knows.
func (b Book) strange(part string, depth int) bool {
	if strings.Count(part, " ") <= weakBlanks {
		return false
	}
	_, known := b.find(part, depth)
	return !known
}

// find gives the translation of a text that is one message.
func (b Book) find(text string, depth int) (string, bool) {
	if to, ok := b.exact(text); ok {
		return to, true
	}
	if depth == 0 {
		return "", false
	}
	bare := strings.TrimSuffix(text, ".")
	for _, p := range b.patterns {
		if !strings.Contains(text, p.plain) {
			continue
		}
		from, stop := text, ""
		if !p.stop {
			from, stop = bare, text[len(bare):]
		}
		m := p.re.FindStringSubmatch(from)
		if m == nil || slices.ContainsFunc(m[1:], func(part string) bool { return len(sentenceEnds(part)) > 0 }) {
			continue
		}
		if p.letters < weak && slices.ContainsFunc(m[1:], func(part string) bool { return b.strange(part, depth-1) }) {
			continue
		}
		parts := m[1:]
		for i, part := range parts {
			parts[i] = b.part(part, depth-1)
		}
		return fill(p.to, parts) + stop, true
	}
	return "", false
}

// exact is the translation of a text as it stands, or with its first letter
// as it was before it began or continued a sentence.
func (b Book) exact(text string) (string, bool) {
	if to := b.whole[text]; to != "" {
		return strings.ReplaceAll(to, "%%", "%"), true
	}
	bare := strings.TrimSuffix(text, ".")
	for _, try := range []struct {
		text string
		like func(string) string
	}{
		{bare, same}, {upperFirst(bare), b.Inside}, {lowerFirst(bare), upperFirst}, {bare + ".", func(s string) string { return strings.TrimSuffix(s, ".") }},
	} {
		if to := b.whole[try.text]; to != "" {
			to = strings.ReplaceAll(try.like(to), "%%", "%")
			if bare != text && !strings.HasSuffix(to, ".") {
				to += "."
			}
			return to, true
		}
	}
	return "", false
}

func same(s string) string { return s }

// germanSmall are the words with which a German message may begin and that
// are small within a sentence; nouns stay as they are.
var germanSmall = strings.Fields(" der die das den dem des ein eine einen einem einer es er sie in im an am auf aus bei beim zu zum zur mit ohne nur " +
	"nicht kein keine keiner zwischen wie wo wenn vor hinter über unter um für als alle jeder beide beides film filme übe " +
	"probiere versuche finde laufe lass frag noch von vom nach gegen diese dieser dieses näher weiter jetzt gehalten ")

// Inside is a message as it stands within a sentence.
func (b Book) Inside(s string) string {
	first, _, _ := strings.Cut(s, " ")
	if b.language == German && !slices.Contains(germanSmall, strings.ToLower(first)) {
		return s
	}
	return lowerFirst(s)
}

// part translates what was filled into a message: a number with its unit, a
// word, a list of words, a sentence.
func (b Book) part(text string, depth int) string {
	if to, ok := b.find(text, depth); ok {
		return to
	}
	if m := figureInterval.FindStringSubmatch(text); m != nil {
		return b.Say("%s (%s to %s)", b.part(m[1], depth), b.Figures(m[2]), b.Figures(m[3]))
	}
	if m := figureUnit.FindStringSubmatch(text); m != nil {
		unit := m[2]
		if to, ok := b.exact(unit); ok {
			unit = to
		}
		return b.Figures(m[1]) + unit
	}
	for _, between := range []string{"; ", ", ", " and "} {
		if list := strings.Split(text, between); len(list) > 1 {
			for i, word := range list {
				list[i] = b.part(word, depth)
			}
			if between == " and " {
				between = " " + b.Say("and") + " "
			}
			return strings.Join(list, between)
		}
	}
	return text
}

// clauses translates a sentence of clauses with semicolons between, where
// each of them is known.
func (b Book) clauses(text string, depth int) (string, bool) {
	list := strings.Split(text, "; ")
	if len(list) < 2 {
		return "", false
	}
	for i, clause := range list {
		to, ok := b.find(clause, depth)
		if !ok {
			return "", false
		}
		list[i] = to
	}
	return strings.Join(list, "; "), true
}

// isFigure tells whether a text is a number with its unit or interval, and
// no sentence.
func (b Book) isFigure(text string) bool {
	return figureUnit.MatchString(text) || figureInterval.MatchString(text)
}

// figureInterval is a number with its unit and the ends of its interval.
var figureInterval = regexp.MustCompile(`^([-−+]?[\d.]+ ?\S*) \(([-−+]?[\d.]+) to ([-−+]?[\d.]+)\)$`)

// figureUnit is a number with what stands behind it.
var figureUnit = regexp.MustCompile(`^([-−+]?\d+(?:\.\d+)?(?: ± \d+(?:\.\d+)?)?[  ]?)(\D*)$`)

// fill puts parts into a translation, each where its verb stands.
func fill(to string, parts []string) string {
	next := 0
	return verb.ReplaceAllStringFunc(to, func(v string) string {
		m := verb.FindStringSubmatch(v)
		if m[3] == "%" {
			return "%"
		}
		i := next
		for _, index := range []string{m[1], m[2]} {
			if n, err := strconv.Atoi(index); err == nil {
				i = n - 1
			}
		}
		next = i + 1
		if i < 0 || i >= len(parts) {
			return v
		}
		return parts[i]
	})
}

// sentenceEnds gives the places behind full stops that a blank and a capital
// letter or a digit follow.
func sentenceEnds(text string) []int {
	var ends []int
	for i := 0; i+2 < len(text); i++ {
		if (text[i] == '.' || text[i] == '!' || text[i] == '?') && text[i+1] == ' ' {
			next, _ := utf8.DecodeRuneInString(text[i+2:])
			if unicode.IsUpper(next) || unicode.IsDigit(next) {
				ends = append(ends, i+1)
			}
		}
	}
	return ends
}

// sameVerbs holds a translation to the verbs of its message: each once more,
// whatever their order.
func sameVerbs(message, to string) error {
	have, want := verbsOf(to), verbsOf(message)
	if !slices.Equal(have, want) {
		return fmt.Errorf("the translation %q fills in %v, not %v", to, have, want)
	}
	return nil
}

// verbsOf lists a message's verbs in the order of what they fill in.
func verbsOf(message string) []string {
	at := map[int]string{}
	next := 1
	for _, m := range verb.FindAllStringSubmatch(message, -1) {
		if m[3] == "%" {
			continue
		}
		for _, index := range []string{m[1], m[2]} {
			if n, err := strconv.Atoi(index); err == nil {
				next = n
			}
		}
		at[next] = "%" + m[3]
		next++
	}
	out := make([]string, 0, len(at))
	for i := 1; len(out) < len(at) && i < 100; i++ {
		if v, ok := at[i]; ok {
			out = append(out, v)
		}
	}
	return out
}

func upperFirst(s string) string { return mapFirst(s, unicode.ToUpper) }
func lowerFirst(s string) string { return mapFirst(s, unicode.ToLower) }

func mapFirst(s string, change func(rune) rune) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(change(first)) + s[size:]
}
