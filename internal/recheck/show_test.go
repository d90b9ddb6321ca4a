package recheck

import (
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// A difference has a sign unless it is written as nothing.
func TestDifferenceOfNothing(t *testing.T) {
	german, err := words.In(words.German)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		by   float64
		book words.Book
		want string
	}{
		{0, words.Book{}, "0.0"}, {0.01, words.Book{}, "0.0"}, {-0.01, words.Book{}, "0.0"}, {0.01, german, "0,0"},
		{1.26, words.Book{}, "+1.3"}, {-1.26, words.Book{}, "−1.3"}, {1.26, german, "+1,3"},
	} {
		change := Change{Name: "trunk_lean", Unit: "deg", Title: "Trunk lean", Side: form.Both, Difference: c.by, SD: 1, Low: c.by - 2, High: c.by + 2}
		if got := change.Show(quantity.Metric, c.book).Difference; got != c.want {
			t.Errorf("%g in %q: %q, want %q", c.by, c.book.Language(), got, c.want)
		}
	}
}
