package standin

import (
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

var lessons = flag.String("lessons", "", "folder for a few lessons as pictures, to be looked at")

// Lessons are of the size asked for, with most points in the picture, and the
// same seed gives the same lesson.
func TestLessons(t *testing.T) {
	const size = 224
	a, b := NewTeacher(size, rand.New(rand.NewPCG(1, 2))), NewTeacher(size, rand.New(rand.NewPCG(1, 2)))
	inside, all := 0, 0
	for i := range 24 {
		l, again := a.Next(), b.Next()
		if len(l.Pix) != 3*size*size || string(l.Pix) != string(again.Pix) || l.At != again.At {
			t.Fatalf("lesson %d is not what it was, or of %d bytes", i, len(l.Pix))
		}
		for _, leg := range l.At {
			for _, p := range leg {
				all++
				if p[0] >= 0 && p[1] >= 0 && p[0] < size && p[1] < size {
					inside++
				}
			}
		}
		if *lessons != "" {
			save(t, filepath.Join(*lessons, fmt.Sprintf("%02d.png", i)), l, size)
		}
	}
	if inside < all*95/100 {
		t.Errorf("%d of %d points lie in their picture; too few to learn from", inside, all)
	}
}

func save(t *testing.T, path string, l Lesson, size int) {
	img := image.NewRGBA(image.Rect(0, 0, size, size))
	for i := range size * size {
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = l.Pix[3*i], l.Pix[3*i+1], l.Pix[3*i+2], 255
	}
	for k, leg := range l.At {
		for _, p := range leg {
			for d := -1; d <= 1; d++ {
				img.Set(int(p[0])+d, int(p[1]), color.RGBA{byte(255 * k), 255, 0, 255})
				img.Set(int(p[0]), int(p[1])+d, color.RGBA{byte(255 * k), 255, 0, 255})
			}
		}
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, img); err != nil {
		t.Fatal(err)
	}
}

func BenchmarkLesson(b *testing.B) {
	c := NewTeacher(224, rand.New(rand.NewPCG(1, 2)))
	for b.Loop() {
		c.Next()
	}
}
