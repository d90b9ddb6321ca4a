package handout

import (
	"regexp"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
)

func TestChoose(t *testing.T) {
	all, err := Choose(nil)
	if err != nil || len(all) != len(plan.Areas()) {
		t.Fatalf("%d topics, %v", len(all), err)
	}
	for i, topic := range all {
		if topic.Area != plan.Areas()[i] {
			t.Errorf("topic %d is %s", i, topic.Area)
		}
		for _, text := range []string{topic.What, topic.Try, topic.Tells, topic.Not, topic.Alt} {
			if len(text) < 10 || !strings.ContainsAny(text[len(text)-1:], ".?") {
				t.Errorf("%s: %q", topic.Area, text)
			}
		}
		if err := topic.Figure.Check(); err != nil {
			t.Errorf("%s: %v", topic.Area, err)
		}
	}
	two, err := Choose([]string{"lean", "landing"})
	if err != nil || len(two) != 2 || two[0].Area != "landing" {
		t.Errorf("%+v, %v", two, err)
	}
	if _, err := Choose([]string{"arms"}); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("an unknown area: %v", err)
	}
	for _, pose := range Stride() {
		if err := pose.Check(); err != nil {
			t.Error(err)
		}
	}
}

// No check at home needs a device, nothing promises to keep injuries away,
// and what is owed is said.
func TestWhatIsSaid(t *testing.T) {
	device := regexp.MustCompile(`(?i)\b(app|watch your|phone|metronome|sensor|scale|video)\b`)
	promise := regexp.MustCompile(`(?i)prevent|injury[- ]free|protects?\b|fewer injur|reduces? (the )?risk|safe from|guarantee|\b180\b`)
	all, err := Choose(nil)
	if err != nil {
		t.Fatal(err)
	}
	said := strings.Join(append(Filming(quantity.Metric), Cautions()...), " ")
	for _, topic := range all {
		if device.MatchString(topic.Try) {
			t.Errorf("%s: the check needs a device: %s", topic.Area, topic.Try)
		}
		said += " " + topic.What + " " + topic.Try + " " + topic.Tells + " " + topic.Not
	}
	if found := promise.FindString(said); found != "" {
		t.Errorf("a promise, or a number held up: %q", found)
	}
	for _, owed := range []string{"Pain means stop", "one thing at a time", "Achilles", "doctor or physiotherapist", "Not a medical device", "minors", "deleted", "chest pain", "no one number"} {
		if !strings.Contains(said, owed) {
			t.Errorf("the handout doesn’t say %q", owed)
		}
	}
}
