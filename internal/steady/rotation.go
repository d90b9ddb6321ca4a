package steady

import "math"

type vec3 [3]float64

// rotation is a 3×3 rotation matrix, by rows.
type rotation [3]vec3

var unturned = rotation{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// times gives a·b: first b, then a.
func (a rotation) times(b rotation) (c rotation) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

// apply turns a direction.
func (a rotation) apply(v vec3) vec3 {
	return vec3{
		a[0][0]*v[0] + a[0][1]*v[1] + a[0][2]*v[2],
		a[1][0]*v[0] + a[1][1]*v[1] + a[1][2]*v[2],
		a[2][0]*v[0] + a[2][1]*v[1] + a[2][2]*v[2],
	}
}

// back turns a direction the other way.
func (a rotation) back(v vec3) vec3 {
	return vec3{
		a[0][0]*v[0] + a[1][0]*v[1] + a[2][0]*v[2],
		a[0][1]*v[0] + a[1][1]*v[1] + a[2][1]*v[2],
		a[0][2]*v[0] + a[1][2]*v[1] + a[2][2]*v[2],
	}
}

// inverse is the rotation the other way.
func (a rotation) inverse() rotation {
	return rotation{{a[0][0], a[1][0], a[2][0]}, {a[0][1], a[1][1], a[2][1]}, {a[0][2], a[1][2], a[2][2]}}
}

// turn is the rotation by |w| radians about w (Rodrigues).
func turn(w vec3) rotation {
	angle := math.Sqrt(w[0]*w[0] + w[1]*w[1] + w[2]*w[2])
	if angle < 1e-12 {
		return unturned
	}
	s, c := math.Sincos(angle)
	x, y, z := w[0]/angle, w[1]/angle, w[2]/angle
	d := 1 - c
	return rotation{
		{c + x*x*d, x*y*d - z*s, x*z*d + y*s},
		{y*x*d + z*s, c + y*y*d, y*z*d - x*s},
		{z*x*d - y*s, z*y*d + x*s, c + z*z*d},
	}
}

// vector is the w of turn.
func (a rotation) vector() vec3 {
	c := math.Max(-1, math.Min(1, (a[0][0]+a[1][1]+a[2][2]-1)/2))
	angle := math.Acos(c)
	k := 0.5
	if angle > 1e-9 {
		k = angle / (2 * math.Sin(angle))
	}
	return vec3{k * (a[2][1] - a[1][2]), k * (a[0][2] - a[2][0]), k * (a[1][0] - a[0][1])}
}
