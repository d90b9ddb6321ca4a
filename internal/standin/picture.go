package standin

import (
	"context"
	"image"
)

// Pictures draws single moments of the motion, at times in seconds: what the
// frames of its clip show there.
func (m *Motion) Pictures(ctx context.Context, cam Camera, scene Scene, times []float64) ([]*image.RGBA, error) {
	if err := cam.check(); err != nil {
		return nil, err
	}
	room := newRoom(m, cam, scene)
	p := newPainter(m, room, scene)
	out := make([]*image.RGBA, len(times))
	for i, t := range times {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out[i] = room.newFrame()
		p.paint(out[i], t, uint64(i))
	}
	return out, nil
}
