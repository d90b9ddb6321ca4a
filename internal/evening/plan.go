package evening

import (
	"encoding/json"
	"fmt"

	"plumbstride/internal/plan"
	"plumbstride/internal/store"
)

// PlanOf reads a kept plan.
func PlanOf(kept store.Plan) (p plan.Plan, err error) {
	if err := json.Unmarshal(kept.Plan, &p); err != nil {
		return p, fmt.Errorf("the plan %s can't be read: %w", kept.ID, err)
	}
	return p, nil
}
