package clip

import "math"

// Frame is one picture as it is shown, planar 4:2:0 with 8 bits a sample.
// The sample of column x and row y is Y[y·YStride+x], its colour
// Cb[(y/2)·CStride+x/2] and Cr likewise; odd sizes have a last chroma column
// or row of their own. The planes belong to the Reader once the Frame is
// given back by Recycle.
type Frame struct {
	Index         int     // which picture of the clip, from 0
	Time          float64 // Info.Times[Index], s
	Width, Height int     // of this picture, pixels
	// Scale is shown pixels per pixel of this picture: a point at (x, y)
	// here, the centre of the first pixel being (0.5, 0.5), is at
	// (Scale·x, Scale·y) in the picture as shown, within half a pixel at
	// the far edge.
	Scale            float64
	Y, Cb, Cr        []byte
	YStride, CStride int
	// Full says that luma runs over 0…255 and chroma over 0…255 about 128,
	// rather than 16…235 and 16…240.
	Full bool
	// BT709 says which matrix makes R'G'B' of it: that of ITU-R BT.709,
	// rather than of ITU-R BT.601.
	BT709 bool

	buf []byte
}

// delivered gives the size of pictures whose longer side is to be at most
// maxSide (0: as they are), and the scale back to the shown size. Among the
// few sizes just below, the one is taken that keeps the shape best.
func delivered(width, height, maxSide int) (w, h int, scale float64) {
	long, short := max(width, height), min(width, height)
	if maxSide <= 0 || long <= maxSide {
		return width, height, 1
	}
	best, bestShort, off := maxSide, 0, math.Inf(1)
	for side := maxSide; side > maxSide-maxSide/32-1 && side > 0; side-- {
		exact := float64(short) * float64(side) / float64(long)
		rounded := max(1, math.Round(exact))
		if d := math.Abs(rounded - exact); d < off-1e-9 {
			best, bestShort, off = side, int(rounded), d
		}
	}
	w, h = best, bestShort
	if height > width {
		w, h = h, w
	}
	return w, h, float64(long) / float64(best)
}

// planes cuts a buffer of a whole picture into its three planes.
func (f *Frame) planes(buf []byte) {
	f.YStride, f.CStride = f.Width, (f.Width+1)/2
	luma, chroma := f.YStride*f.Height, f.CStride*((f.Height+1)/2)
	f.buf = buf
	f.Y = buf[:luma:luma]
	f.Cb = buf[luma : luma+chroma : luma+chroma]
	f.Cr = buf[luma+chroma : luma+2*chroma : luma+2*chroma]
}

// frameBytes is the size of such a buffer.
func frameBytes(w, h int) int { return w*h + 2*((w+1)/2)*((h+1)/2) }
