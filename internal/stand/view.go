package stand

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// The width of the shoulders over the trunk's length in the picture: 0.7
// seen from the front (shoulder joints 0.205 H apart, trunk 0.288 H long;
// common practice, no source), 0 from the side. Between the two limits
// somebody stands askew, some 30 to 45° off.
const (
	sideBelow  = 0.35
	frontAbove = 0.50
	frontRatio = 0.71
)

// findView recognises from where the person is seen, or takes what was
// stated, and puts left and right right in a stated back view.
func (p *Pose) findView(stated form.View) error {
	ratio, ok := p.shoulderRatio()
	seen := p.seenView(ratio, ok)
	switch {
	case stated != "":
		p.View = stated
		if sideways := ratio < sideBelow; ok && stated != form.ViewSide && sideways {
			return form.ClipError("the person is seen from the side, not from the %s as stated: turn them towards the camera, or leave --view out", stated)
		}
		if ok && stated == form.ViewSide && ratio > frontAbove {
			return form.ClipError("the person is seen from the front or the back, not from the side as stated: turn them side-on, or leave --view out")
		}
		if stated == form.ViewBack && seen == form.ViewFront || stated == form.ViewFront && seen == form.ViewBack {
			p.exchangeSides()
		}
		return nil
	case seen == "" && ok:
		return form.ClipError("the person stands askew to the camera, turned by about %.0f degrees: have them stand side-on or facing the camera", geom.Degrees(math.Asin(math.Min(ratio/frontRatio, 1))))
	case seen == "":
		return form.ClipError("shoulders and hips are not seen well enough to tell from where the person is filmed: keep the whole body in the picture, or say it (--view side)")
	}
	p.View = seen
	return nil
}

// shoulderRatio is the shoulders' width in the picture over the trunk's length.
func (p *Pose) shoulderRatio() (float64, bool) {
	l, okL := p.px(form.Shoulder, form.Left)
	r, okR := p.px(form.Shoulder, form.Right)
	hip, okH := p.midPx(form.Hip)
	if !okL || !okR || !okH {
		return 0, false
	}
	trunk := geom.Mid(l, r).Sub(hip).Norm()
	if trunk <= 0 {
		return 0, false
	}
	return math.Abs(l.X-r.X) / trunk, true
}

func (p *Pose) seenView(ratio float64, ok bool) form.View {
	switch {
	case !ok:
		return ""
	case ratio < sideBelow:
		return form.ViewSide
	case ratio < frontAbove:
		return ""
	}
	l, _ := p.px(form.Shoulder, form.Left)
	r, _ := p.px(form.Shoulder, form.Right)
	if l.X < r.X { // who turns the back has the left on the picture's left
		return form.ViewBack
	}
	return form.ViewFront
}

// exchangeSides names left what was right.
func (p *Pose) exchangeSides() {
	for pt := form.Eye; pt <= form.Toe; pt++ {
		l, r := form.At(pt, form.Left), form.At(pt, form.Right)
		p.pixels[l], p.pixels[r] = p.pixels[r], p.pixels[l]
	}
}

// findFacing is the way toes point from heels and the nose from the ears.
func (p *Pose) findFacing(stated form.Side) {
	p.Facing = stated
	if stated == form.Left || stated == form.Right {
		return
	}
	sum := 0.0
	for _, s := range sides {
		heel, ok1 := p.px(form.Heel, s)
		toe, ok2 := p.px(form.Toe, s)
		if ok1 && ok2 {
			sum += toe.X - heel.X
		}
		ear, ok3 := p.px(form.Ear, s)
		if nose := p.pixels[0]; ok3 && nose.seen {
			sum += nose.at.X - ear.X
		}
	}
	p.Facing = form.Right
	if sum < 0 {
		p.Facing = form.Left
	}
}
