package words

import (
	"fmt"
	"strings"
	"time"
)

// mark is the language's decimal mark (Unicode CLDR: a comma in German and
// in Spanish as written in Spain).
func (b Book) mark() string {
	if b.Language() == English {
		return "."
	}
	return ","
}

// number is a float64 that package fmt writes with a decimal mark.
type number struct {
	value float64
	mark  string
}

// Format writes as fmt would, with the decimal mark and a true minus sign;
// what rounds to nothing has no sign.
func (n number) Format(s fmt.State, verb rune) {
	text := fmt.Sprintf(fmt.FormatString(s, verb), n.value)
	if strings.Trim(text, "+-0.") == "" {
		text = strings.TrimLeft(text, "+-")
	}
	_, _ = fmt.Fprint(s, strings.NewReplacer(".", n.mark, "-", "−").Replace(text))
}

// Figures gives a text that holds numbers and units alone ("8.3 ± 2.1 cm")
// with the language's decimal mark.
func (b Book) Figures(text string) string {
	if b.mark() == "." {
		return text
	}
	out := []byte(text)
	for i := 1; i+1 < len(out); i++ {
		if out[i] == '.' && digit(out[i-1]) && digit(out[i+1]) {
			out[i] = b.mark()[0]
		}
	}
	return string(out)
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

// calendarWords are the words of a language's dates.
type calendarWords struct {
	months, short, days [12]string // of days only seven, from Sunday
	long, brief, clock  string     // the order of a date: %[1]s day, %[2]s month, %[3]d year, %[4]s weekday
}

func calendarOf(l Language) calendarWords {
	switch l {
	case Spanish:
		return calendarWords{
			months: [12]string{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"},
			short:  [12]string{"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sept", "oct", "nov", "dic"},
			days:   [12]string{"dom", "lun", "mar", "mié", "jue", "vie", "sáb"},
			long:   "%d de %s de %d", brief: "%s %d %s %d", clock: "%s, %s",
		}
	case German:
		return calendarWords{
			months: [12]string{"Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November", "Dezember"},
			short:  [12]string{"Jan.", "Feb.", "März", "Apr.", "Mai", "Juni", "Juli", "Aug.", "Sept.", "Okt.", "Nov.", "Dez."},
			days:   [12]string{"So", "Mo", "Di", "Mi", "Do", "Fr", "Sa"},
			long:   "%d. %s %d", brief: "%s %d. %s %d", clock: "%s, %s Uhr",
		}
	default:
		return calendarWords{
			months: [12]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
			short:  [12]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"},
			days:   [12]string{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
			long:   "%d %s %d", brief: "%s %d %s %d", clock: "%s, %s",
		}
	}
}

// Date writes a day in full: "2 March 2026".
func (b Book) Date(t time.Time) string {
	c := calendarOf(b.Language())
	return fmt.Sprintf(c.long, t.Day(), c.months[t.Month()-1], t.Year())
}

// Weekday writes a day shortly, with its day of the week: "Mon 2 Mar 2026".
func (b Book) Weekday(t time.Time) string {
	c := calendarOf(b.Language())
	return fmt.Sprintf(c.brief, c.days[t.Weekday()], t.Day(), c.short[t.Month()-1], t.Year())
}

// DayMonth writes a day without its year: "Mon 2 Mar".
func (b Book) DayMonth(t time.Time) string {
	text := b.Weekday(t)
	return text[:strings.LastIndexByte(text, ' ')]
}

// ShortDate writes a day as shortly as can be, for the end of an axis:
// "2 Mar 26".
func (b Book) ShortDate(t time.Time) string {
	if b.Language() == German {
		return t.Format("2.1.06")
	}
	return fmt.Sprintf("%d %s %s", t.Day(), calendarOf(b.Language()).short[t.Month()-1], t.Format("06"))
}

// Moment writes a day and a time of the day: "2 March 2026, 15:04".
func (b Book) Moment(t time.Time) string {
	return fmt.Sprintf(calendarOf(b.Language()).clock, b.Date(t), t.Format("15:04"))
}
