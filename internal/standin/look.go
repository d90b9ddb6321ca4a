package standin

import "math/rand/v2"

// Look is how the invented figure is dressed and built. Colours are sRGB
// 0xRRGGBB.
type Look struct {
	Skin, Hair, Shirt, Shorts, Trim, Shoe, Sole, Sock uint32
	// Build scales girth against height: 1 is lean.
	Build float64
	// Tights: the shorts reach below the knee.
	Tights bool
	// Bun: long hair tied at the back.
	Bun bool

	odd *oddities // what an ordinary figure hasn't; see Lesson
}

// DefaultLook is a calm figure in a rust-coloured shirt.
func DefaultLook() Look {
	return Look{
		Skin: 0xC79274, Hair: 0x33261F, Shirt: 0xB4553A, Shorts: 0x26303C, Trim: 0xE9DFD0,
		Shoe: 0x2F6B6A, Sole: 0xEDEAE2, Sock: 0xD9D4C8, Build: 1,
	}
}

// RandomLook draws skin, hair, clothes and build.
func RandomLook(rng *rand.Rand) Look {
	pick := func(cs ...uint32) uint32 { return cs[rng.IntN(len(cs))] }
	return Look{
		Skin:   pick(0xE2B495, 0xD2A283, 0xC79274, 0xA9744F, 0x86583A, 0x5E3D2A),
		Hair:   pick(0x1E1815, 0x33261F, 0x5B4230, 0x8A6B45, 0x77706A),
		Shirt:  pick(0xB4553A, 0x3F6E8C, 0x6B8F5A, 0x8A4F6D, 0xC9A13B, 0xDAD7CF, 0x30363F, 0x2E8080),
		Shorts: pick(0x26303C, 0x1D1F22, 0x44505E, 0x5A4A3E, 0x27402F),
		Trim:   pick(0xE9DFD0, 0xC7C2B8, 0x9FB3BF),
		Shoe:   pick(0x2F6B6A, 0xC2492F, 0x4657A0, 0xE3C64A, 0x2A2A2E, 0xD8D5CE),
		Sole:   pick(0xEDEAE2, 0xD6D1C4, 0x9A9A96),
		Sock:   pick(0xD9D4C8, 0x2B2B2B, 0xB8BEC2),
		Build:  0.94 + 0.22*rng.Float64(),
		Tights: rng.IntN(3) == 0, Bun: rng.IntN(3) == 0,
	}
}
