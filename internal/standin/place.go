package standin

import "math"

// Place is where the runner runs.
type Place uint8

// The places: a room with a dado and boards, a path before a hedge and a
// house, and a hall in which nothing at all can be told apart.
const (
	Indoors Place = iota
	Outdoors
	Blank
)

// The path's surroundings: how far the hedge and house stand behind the
// runner, and how far they reach along the path, metres.
const (
	hedgeZ       = 5.0
	outdoorsHalf = 40.0
	skyHeight    = 9.0
)

// The colours outdoors, and of the hall.
var (
	asphaltColour = hex(0x77787A)
	grassColour   = hex(0x6E8A4E)
	hedgeColour   = hex(0x3F5B34)
	brickColour   = hex(0xA87B63)
	windowColour  = hex(0x45525C)
	frameColour   = hex(0xE6E3DA)
	skyColour     = hex(0xBFD3E2)
	blankColour   = hex(0xC4C4C0)
)

// extent gives how far the place reaches along X, up and along Z.
func (p Place) extent() (x, up, z float64) {
	if p == Outdoors {
		return outdoorsHalf, skyHeight, hedgeZ
	}
	return roomHalf, roomHeight, wallZ
}

// outdoorWall is hedge, house and sky, along and up in metres.
func outdoorWall(along, up float64) paint {
	switch {
	case up < 1.1+0.15*grain(along*1.7, 0):
		return hedgeColour.scale(float32(0.55 + 0.9*grain(along*7, up*7)))
	case up > 6.5:
		return skyColour
	}
	x := math.Mod(along+300, 3.1)
	switch {
	case up > 1.6 && up < 3.3 && x > 0.9 && x < 2.2:
		if x < 0.98 || x > 2.12 || up < 1.68 || up > 3.22 || math.Abs(x-1.55) < 0.03 {
			return frameColour
		}
		return windowColour.scale(float32(0.7 + 0.6*grain(along*1.3, up*1.1)))
	case x < 0.12:
		return frameColour.scale(0.8)
	}
	row := math.Floor(up / 0.10)
	brick := math.Floor(along/0.26 + 0.5*math.Mod(row, 2))
	return brickColour.scale(float32(0.75 + 0.5*hash(brick, row)))
}

// outdoorFloor is asphalt with patches, and grass beside it.
func outdoorFloor(p Vec3) paint {
	if math.Abs(p.Z) > 1.4 {
		return grassColour.scale(float32(0.6 + 0.8*grain(p.X*5, p.Z*5)))
	}
	return asphaltColour.scale(float32(0.7 + 0.45*grain(p.X*9, p.Z*9) + 0.25*grain(p.X*1.1, p.Z*1.1) - 0.1))
}

// hash is an even spread of 0…1 over whole numbers.
func hash(i, k float64) float64 { return frac(math.Sin(i*127.1+k*311.7) * 43758.5453) }

// grain is smooth noise of mean 0.5 with a period of about 1.
func grain(x, y float64) float64 {
	i, k := math.Floor(x), math.Floor(y)
	u, v := x-i, y-k
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	low := hash(i, k) + (hash(i+1, k)-hash(i, k))*u
	high := hash(i, k+1) + (hash(i+1, k+1)-hash(i, k+1))*u
	return low + (high-low)*v
}
