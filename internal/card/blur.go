package card

import (
	"image"
	"image/draw"
	"math"
)

// blurBlocks is how many blocks cover the diameter of a blurred face: so few
// that no feature is left, whatever the picture's size.
const blurBlocks = 5

// BlurFace gives a copy of the picture with a disc made unrecognisable:
// centre x, y and radius in pixels. The disc is first cut into five blocks
// across, each replaced by its mean, and these are then smoothed, so nothing
// finer than a block can be had back from the result. A disc outside the
// picture, or one without a positive radius, changes nothing.
func BlurFace(img image.Image, x, y, radius float64) *image.RGBA {
	bounds := img.Bounds()
	out := image.NewRGBA(bounds)
	draw.Draw(out, bounds, img, bounds.Min, draw.Src)
	if !(radius > 0) || math.IsNaN(x) || math.IsNaN(y) || math.IsInf(radius, 0) {
		return out
	}
	disc := image.Rect(int(math.Floor(x-radius)), int(math.Floor(y-radius)),
		int(math.Ceil(x+radius)), int(math.Ceil(y+radius))).Intersect(bounds)
	if disc.Empty() {
		return out
	}
	means := blockMeans(out, disc)
	for py := disc.Min.Y; py < disc.Max.Y; py++ {
		for px := disc.Min.X; px < disc.Max.X; px++ {
			dx, dy := float64(px)+0.5-x, float64(py)+0.5-y
			if dx*dx+dy*dy > radius*radius {
				continue
			}
			u := (float64(px-disc.Min.X)+0.5)/float64(disc.Dx())*blurBlocks - 0.5
			v := (float64(py-disc.Min.Y)+0.5)/float64(disc.Dy())*blurBlocks - 0.5
			at := out.PixOffset(px, py)
			for k := range 4 {
				out.Pix[at+k] = uint8(math.Round(between(means, u, v, k)))
			}
		}
	}
	return out
}

// blocks holds the mean red, green, blue and alpha of each block.
type blocks [blurBlocks][blurBlocks][4]float64

func blockMeans(img *image.RGBA, area image.Rectangle) *blocks {
	var sums blocks
	var counts [blurBlocks][blurBlocks]float64
	for y := area.Min.Y; y < area.Max.Y; y++ {
		row := (y - area.Min.Y) * blurBlocks / area.Dy()
		for x := area.Min.X; x < area.Max.X; x++ {
			column := (x - area.Min.X) * blurBlocks / area.Dx()
			at := img.PixOffset(x, y)
			for k := range 4 {
				sums[row][column][k] += float64(img.Pix[at+k])
			}
			counts[row][column]++
		}
	}
	for i := range sums {
		for j := range sums[i] {
			for k := range 4 {
				if counts[i][j] > 0 {
					sums[i][j][k] /= counts[i][j]
				}
			}
		}
	}
	return &sums
}

// between interpolates the block means linearly at column u and row v.
func between(b *blocks, u, v float64, k int) float64 {
	u, v = math.Min(math.Max(u, 0), blurBlocks-1), math.Min(math.Max(v, 0), blurBlocks-1)
	j, i := min(int(u), blurBlocks-2), min(int(v), blurBlocks-2)
	fu, fv := u-float64(j), v-float64(i)
	top := b[i][j][k]*(1-fu) + b[i][j+1][k]*fu
	bottom := b[i+1][j][k]*(1-fu) + b[i+1][j+1][k]*fu
	return top*(1-fv) + bottom*fv
}
