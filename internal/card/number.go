package card

import (
	"encoding/json"
	"math"
)

func marshalNumber(v float64) ([]byte, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(v)
}

func unmarshalNumber(data []byte, v *float64) error {
	if string(data) == "null" {
		*v = math.NaN()
		return nil
	}
	return json.Unmarshal(data, v)
}
