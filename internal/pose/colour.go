package pose

// rgb turns the codes of a picture into red, green and blue for a network.
// It is a table of the values for one range of codes, matrix and target
// range; fixed-point numbers have 16 binary places.
type rgb struct {
	luma  [256]int32 // contribution of Y
	crR   [256]int32 // of Cr to red
	cbG   [256]int32
	crG   [256]int32
	cbB   [256]int32
	level [1024]float32 // value of (sum >> 16) + 384, clamped to the range
}

// newRGB makes the table. Matrix coefficients: Kr, Kb = 0.2126, 0.0722 for
// Rec. ITU-R BT.709 (item 3.2), 0.299, 0.114 for BT.601; R = Y + 2(1−Kr)Cr,
// B = Y + 2(1−Kb)Cb, G = (Y − Kr·R − Kb·B)/(1−Kr−Kb). Black is given low,
// white high.
func newRGB(full, bt709 bool, low, high float32) *rgb {
	kr, kb := 0.299, 0.114
	if bt709 {
		kr, kb = 0.2126, 0.0722
	}
	kg := 1 - kr - kb
	yOffset, yGain, cGain := 16.0, 255.0/219, 255.0/224
	if full {
		yOffset, yGain, cGain = 0, 1, 1
	}
	fixed := func(x float64) int32 {
		if x < 0 {
			return int32(x*65536 - 0.5)
		}
		return int32(x*65536 + 0.5)
	}
	t := new(rgb)
	for i := range 256 {
		c := (float64(i) - 128) * cGain
		t.luma[i] = fixed((float64(i)-yOffset)*yGain + 0.5)
		t.crR[i] = fixed(2 * (1 - kr) * c)
		t.cbB[i] = fixed(2 * (1 - kb) * c)
		t.crG[i] = fixed(-2 * (1 - kr) * kr / kg * c)
		t.cbG[i] = fixed(-2 * (1 - kb) * kb / kg * c)
	}
	for i := range t.level {
		v := float32(max(0, min(i-384, 255)))
		t.level[i] = low + (high-low)*v/255
	}
	return t
}

// palette keeps the four tables of one target range, made when first used.
type palette struct {
	low, high float32
	tables    [4]*rgb
}

func (p *palette) table(full, bt709 bool) *rgb {
	i := 0
	if full {
		i |= 1
	}
	if bt709 {
		i |= 2
	}
	if p.tables[i] == nil {
		p.tables[i] = newRGB(full, bt709, p.low, p.high)
	}
	return p.tables[i]
}

// fill writes the picture row by row as red, green, blue into dst, of length
// 3·size².
func (p *palette) fill(dst []float32, src *picture) {
	t := p.table(src.full, src.bt709)
	n, half := src.size, src.size/2
	for j := range n {
		luma := src.y[j*n : (j+1)*n]
		cbs := src.cb[j/2*half : (j/2+1)*half]
		crs := src.cr[j/2*half : (j/2+1)*half]
		out := dst[3*j*n : 3*(j+1)*n]
		for i := range half {
			cb, cr := cbs[i], crs[i]
			r, g, b := t.crR[cr], t.cbG[cb]+t.crG[cr], t.cbB[cb]
			y0, y1 := t.luma[luma[2*i]], t.luma[luma[2*i+1]]
			px := out[6*i : 6*i+6 : 6*i+6]
			px[0] = t.level[((y0+r)>>16+384)&1023]
			px[1] = t.level[((y0+g)>>16+384)&1023]
			px[2] = t.level[((y0+b)>>16+384)&1023]
			px[3] = t.level[((y1+r)>>16+384)&1023]
			px[4] = t.level[((y1+g)>>16+384)&1023]
			px[5] = t.level[((y1+b)>>16+384)&1023]
		}
	}
}
