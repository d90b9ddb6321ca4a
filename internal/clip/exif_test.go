package clip

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"
)

// withOrientation puts an Exif segment with one tag into a JPEG file.
func withOrientation(order binary.AppendByteOrder, mark string, jpg []byte, orientation uint16) []byte {
	tiff := []byte(mark)
	tiff = order.AppendUint32(tiff, 8)
	tiff = order.AppendUint16(tiff, 1)
	tiff = order.AppendUint16(tiff, 0x0112)
	tiff = order.AppendUint16(tiff, 3)
	tiff = order.AppendUint32(tiff, 1)
	tiff = order.AppendUint16(tiff, orientation)
	tiff = append(tiff, make([]byte, 6)...)
	body := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{}, jpg[:2]...)
	out = append(out, 0xFF, 0xE1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	return append(append(out, body...), jpg[2:]...)
}

// The orientation tag says where the stored row 0 and column 0 are in the
// picture as shown (Exif 2.32, 4.6.4, Orientation): 1 top-left, 2 top-right,
// 3 bottom-right, 4 bottom-left, 5 left-top, 6 right-top, 7 right-bottom,
// 8 left-bottom.
func TestExifOrientation(t *testing.T) {
	const w, h = 96, 64
	img := image.NewGray(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = 60
	}
	for y := range h / 2 { // the stored top left is light
		for x := range w / 2 {
			img.SetGray(x, y, color.Gray{Y: 200})
		}
	}
	for y := range h / 2 { // the stored top right is grey
		for x := w / 2; x < w; x++ {
			img.SetGray(x, y, color.Gray{Y: 130})
		}
	}
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	// Where the light and the grey quarter are shown: x, y as parts of the size.
	shown := map[uint16][4]float64{
		0: {.25, .25, .75, .25}, 1: {.25, .25, .75, .25}, 2: {.75, .25, .25, .25}, 3: {.75, .75, .25, .75}, 4: {.25, .75, .75, .75},
		5: {.25, .25, .25, .75}, 6: {.75, .25, .75, .75}, 7: {.75, .75, .75, .25}, 8: {.25, .75, .25, .25}, 9: {.25, .25, .75, .25},
	}
	for orientation, at := range shown {
		data := withOrientation(binary.BigEndian, "MM\x00*", jpg.Bytes(), orientation)
		if orientation%2 == 0 {
			data = withOrientation(binary.LittleEndian, "II*\x00", jpg.Bytes(), orientation)
		}
		info := probe(t, write(t, "photo.jpg", data))
		r, err := Open(context.Background(), Tools{}, info, Options{})
		if err != nil {
			t.Fatal(err)
		}
		f, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		if f.Width != info.Width || f.Height != info.Height || (f.Width < f.Height) != (orientation >= 5 && orientation <= 8) {
			t.Errorf("orientation %d: %d × %d", orientation, f.Width, f.Height)
		}
		for i, want := range []float64{200, 130} {
			x, y := int(at[2*i]*float64(f.Width)), int(at[2*i+1]*float64(f.Height))
			if got := float64(f.Y[y*f.YStride+x]); math.Abs(got-want) > 3 {
				t.Errorf("orientation %d: luma %v at (%d, %d), want %v", orientation, got, x, y, want)
			}
		}
		r.Close()
	}
}

func FuzzExif(f *testing.F) {
	plain := []byte("\xFF\xD8\xFF\xDB\x00\x04ab\xFF\xDA")
	f.Add(withOrientation(binary.BigEndian, "MM\x00*", plain, 6))
	f.Add(withOrientation(binary.LittleEndian, "II*\x00", plain, 3))
	f.Add(plain)
	f.Fuzz(func(t *testing.T, head []byte) {
		if got := exifTurn(head); got.Degrees%90 != 0 || got.Degrees < 0 || got.Degrees > 270 {
			t.Fatalf("%+v", got)
		}
	})
}
