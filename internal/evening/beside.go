package evening

import (
	"context"
	"errors"

	"plumbstride/internal/beside"
	"plumbstride/internal/media"
	"plumbstride/internal/store"
)

// Beside gives a check's run to be laid beside another: its track and, where
// they may be seen and are still kept, the pictures of its stride. A check
// whose track is gone has none: store.ErrNotFound.
func Beside(ctx context.Context, s store.Store, shelf media.Shelf, c store.Check, pictures bool) (beside.Run, error) {
	stride, err := StrideOf(ctx, s, shelf, c)
	if err != nil {
		return beside.Run{}, err
	}
	run := beside.Run{Card: stride.Card, Track: stride.Track}
	if !pictures {
		return run, nil
	}
	for _, one := range stride.Stills {
		run.Stills = append(run.Stills, beside.Still{Side: one.Side, TimeS: one.TimeS, Place: one.Place})
	}
	for _, i := range run.Wanted() {
		one := stride.Stills[i]
		if one.FootageID == "" {
			continue
		}
		img, err := picture(ctx, s, shelf, one.FootageID)
		if errors.Is(err, store.ErrNotFound) || errors.Is(err, media.ErrNoFile) {
			continue
		}
		if err != nil {
			return beside.Run{}, err
		}
		run.Stills[i].Image = img
	}
	return run, nil
}
