package standin

import "math"

// Vec3 is a place or a direction: X forward, Y up, Z to the runner's right,
// in metres.
type Vec3 struct{ X, Y, Z float64 }

func (a Vec3) add(b Vec3) Vec3             { return Vec3{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a Vec3) sub(b Vec3) Vec3             { return Vec3{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a Vec3) scale(k float64) Vec3        { return Vec3{a.X * k, a.Y * k, a.Z * k} }
func (a Vec3) dot(b Vec3) float64          { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a Vec3) norm() float64               { return math.Sqrt(a.dot(a)) }
func (a Vec3) lerp(b Vec3, k float64) Vec3 { return a.add(b.sub(a).scale(k)) }

func (a Vec3) cross(b Vec3) Vec3 {
	return Vec3{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// unit gives the direction of a; the zero vector stays zero.
func (a Vec3) unit() Vec3 {
	n := a.norm()
	if n == 0 {
		return a
	}
	return a.scale(1 / n)
}

// aboutY turns a by angle about the vertical, X towards −Z (to the left).
func (a Vec3) aboutY(angle float64) Vec3 {
	s, c := math.Sincos(angle)
	return Vec3{c*a.X + s*a.Z, a.Y, -s*a.X + c*a.Z}
}

// aboutZ turns a by angle about the Z axis, X towards Y.
func (a Vec3) aboutZ(angle float64) Vec3 {
	s, c := math.Sincos(angle)
	return Vec3{c*a.X - s*a.Y, s*a.X + c*a.Y, a.Z}
}

// aboutX turns a by angle about the X axis, Y towards Z.
func (a Vec3) aboutX(angle float64) Vec3 {
	s, c := math.Sincos(angle)
	return Vec3{a.X, c*a.Y - s*a.Z, s*a.Y + c*a.Z}
}

// vec2 lies in the vertical plane of a foot: U along the foot, Y up.
type vec2 struct{ U, Y float64 }

func (a vec2) add(b vec2) vec2 { return vec2{a.U + b.U, a.Y + b.Y} }
func (a vec2) sub(b vec2) vec2 { return vec2{a.U - b.U, a.Y - b.Y} }

// turned turns a by angle, U towards Y (toes up).
func (a vec2) turned(angle float64) vec2 {
	s, c := math.Sincos(angle)
	return vec2{c*a.U - s*a.Y, s*a.U + c*a.Y}
}

func rad(deg float64) float64 { return deg * math.Pi / 180 }
func deg(rad float64) float64 { return rad * 180 / math.Pi }

func clamp(v, low, high float64) float64 { return math.Max(low, math.Min(high, v)) }
