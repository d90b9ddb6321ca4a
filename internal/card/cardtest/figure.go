package cardtest

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/vector"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
)

// joints of the drawn figure, in tenths of a head height, x forward from the
// hip and y up from the ground.
type joints struct {
	head, neck, hip                          [2]float64
	elbowNear, wristNear, elbowFar, wristFar [2]float64
	kneeNear, ankleNear, toeNear, heelNear   [2]float64
	kneeFar, ankleFar, toeFar, heelFar       [2]float64
}

var atContact = joints{
	head: [2]float64{7, 69}, neck: [2]float64{5, 59}, hip: [2]float64{0, 38},
	elbowNear: [2]float64{-6, 50}, wristNear: [2]float64{0, 42}, elbowFar: [2]float64{10, 49}, wristFar: [2]float64{17, 55},
	kneeNear: [2]float64{11, 22}, ankleNear: [2]float64{15, 4}, heelNear: [2]float64{12.5, 1.5}, toeNear: [2]float64{23, 4.5},
	kneeFar: [2]float64{-1, 19}, ankleFar: [2]float64{-18, 23}, heelFar: [2]float64{-21, 25}, toeFar: [2]float64{-20, 15},
}

var atMidstance = joints{
	head: [2]float64{8, 67}, neck: [2]float64{5.5, 57}, hip: [2]float64{0, 36},
	elbowNear: [2]float64{1, 47}, wristNear: [2]float64{10, 46}, elbowFar: [2]float64{3, 47}, wristFar: [2]float64{12, 44},
	kneeNear: [2]float64{7, 20}, ankleNear: [2]float64{1, 4}, heelNear: [2]float64{-2, 1}, toeNear: [2]float64{9.5, 1},
	kneeFar: [2]float64{6, 18}, ankleFar: [2]float64{-10, 13}, heelFar: [2]float64{-13, 13.5}, toeFar: [2]float64{-9, 5},
}

// picture draws the figure on a treadmill in a plain room, with its lines.
func picture(j joints, moment string, side form.Side, timeS float64, w, h int) card.Picture {
	scale := float64(h) / 92
	at := func(p [2]float64) [2]float64 {
		return [2]float64{float64(w)*0.47 + p[0]*scale, float64(h)*0.87 - p[1]*scale}
	}
	img := room(w, h, scale)
	skin, far := color.RGBA{176, 128, 100, 255}, color.RGBA{140, 100, 80, 255}
	shirt, shorts, shoe := color.RGBA{92, 112, 104, 255}, color.RGBA{52, 54, 62, 255}, color.RGBA{214, 208, 196, 255}
	limb := func(c color.RGBA, r1, r2 float64, p, q [2]float64) {
		capsule(img, at(p), at(q), r1*scale, r2*scale, c)
	}
	limb(far, 1.7, 1.4, j.neck, j.elbowFar)
	limb(far, 1.4, 1.1, j.elbowFar, j.wristFar)
	limb(far, 3.2, 2.2, j.hip, j.kneeFar)
	limb(far, 2.3, 1.3, j.kneeFar, j.ankleFar)
	limb(color.RGBA{170, 164, 154, 255}, 1.6, 1.2, j.heelFar, j.toeFar)
	limb(skin, 3.3, 2.3, j.hip, j.kneeNear)
	limb(skin, 2.4, 1.3, j.kneeNear, j.ankleNear)
	limb(shorts, 4.2, 3.2, j.hip, [2]float64{(j.hip[0] + j.kneeNear[0]) / 2, (j.hip[1] + j.kneeNear[1]) / 2})
	limb(shirt, 4.2, 4.4, j.hip, [2]float64{j.neck[0] * 0.85, j.neck[1] - 4})
	limb(skin, 1.6, 1.6, j.neck, j.head)
	capsule(img, at(j.head), at([2]float64{j.head[0] + 0.6, j.head[1] - 2}), 4.3*scale, 3.6*scale, skin)
	capsule(img, at([2]float64{j.head[0] - 1.4, j.head[1] + 1.6}), at([2]float64{j.head[0] + 0.6, j.head[1] + 2.6}), 3.6*scale, 2.9*scale, color.RGBA{60, 46, 40, 255})
	limb(shirt, 2.2, 1.8, [2]float64{j.neck[0] * 0.85, j.neck[1] - 4}, j.elbowNear)
	limb(skin, 1.5, 1.1, j.elbowNear, j.wristNear)
	limb(shoe, 1.6, 1.2, j.heelNear, j.toeNear)
	face := at(j.head)
	blurred := card.BlurFace(img, face[0], face[1], 5.2*scale)
	mass := at([2]float64{2.2, j.hip[1] + 4})
	line := func(p, q [2]float64) card.Line {
		a, b := at(p), at(q)
		return card.Line{X1: a[0], Y1: a[1], X2: b[0], Y2: b[1]}
	}
	return card.Picture{
		Title: card.Capital(moment), Moment: moment, TimeS: timeS, Side: side, Image: blurred,
		CentreOfMass: mass, Tilt: 0.006,
		Body:    []card.Line{line(j.ankleNear, j.hip), line(j.hip, j.neck), line(j.neck, j.head)},
		Foot:    []card.Line{line(j.heelNear, j.toeNear)},
		GroundY: float64(h) * 0.87,
	}
}

// room paints a wall with a soft light, a floor and a treadmill.
func room(w, h int, scale float64) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			light := 1 - 0.25*math.Hypot(float64(x)/float64(w)-0.4, float64(y)/float64(h)-0.3)
			base := 196.0
			if float64(y) > 0.87*float64(h)+6*scale {
				base = 128
			}
			v := base * light
			img.SetRGBA(x, y, color.RGBA{uint8(v), uint8(v * 0.985), uint8(v * 0.95), 255})
		}
	}
	deck := image.Rect(0, int(0.87*float64(h)), w, int(0.87*float64(h)+5*scale))
	draw.Draw(img, deck, image.NewUniform(color.RGBA{58, 56, 54, 255}), image.Point{}, draw.Src)
	belt := image.Rect(0, deck.Min.Y, w, deck.Min.Y+int(1.2*scale))
	draw.Draw(img, belt, image.NewUniform(color.RGBA{88, 85, 80, 255}), image.Point{}, draw.Src)
	return img
}

// capsule fills the hull of two discs.
func capsule(img draw.Image, p, q [2]float64, r1, r2 float64, c color.RGBA) {
	b := img.Bounds()
	z := vector.NewRasterizer(b.Dx(), b.Dy())
	angle := math.Atan2(q[1]-p[1], q[0]-p[0])
	const steps = 24
	for i := range 2 * (steps + 1) {
		centre, r := q, r2
		a := angle - math.Pi/2 + math.Pi*float64(i)/steps
		if i > steps {
			centre, r = p, r1
			a = angle + math.Pi/2 + math.Pi*float64(i-steps-1)/steps
		}
		x, y := float32(centre[0]+r*math.Cos(a)), float32(centre[1]+r*math.Sin(a))
		if i == 0 {
			z.MoveTo(x, y)
		} else {
			z.LineTo(x, y)
		}
	}
	z.ClosePath()
	z.Draw(img, b, image.NewUniform(c), image.Point{})
}
