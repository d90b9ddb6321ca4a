package cli

import (
	"bytes"
	"encoding/json"
	"fmt"

	"plumbstride/internal/card"
)

// cardJSON is the card as the one object that --json prints, by the schema
// in docs/check.schema.json: a list without members is [], never null.
func cardJSON(c card.Card) ([]byte, error) {
	c.Events = listed(c.Events)
	c.Measures = listed(c.Measures)
	c.Refused = listed(c.Refused)
	c.Areas = listed(c.Areas)
	c.Networks = listed(c.Networks)
	c.Notes = listed(c.Notes)
	c.Cautions = listed(c.Cautions)
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(c); err != nil {
		return nil, fmt.Errorf("writing the card as JSON: %w", err)
	}
	return b.Bytes(), nil
}

// listed turns no list into an empty one.
func listed[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
