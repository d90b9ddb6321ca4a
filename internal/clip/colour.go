package clip

import "strings"

// span is ffmpeg's word for the range of luma.
func (i *Info) span() string {
	if i.full {
		return "pc"
	}
	return "tv"
}

// fromStored tells ffmpeg's scale filter how to read the stored pictures.
func (i *Info) fromStored() string {
	if i.rgb() {
		return "in_range=pc"
	}
	return "in_range=" + i.span()
}

// matrix is ffmpeg's word for the matrix between Y'CbCr and R'G'B'.
func (i *Info) matrix() string {
	if i.bt709 {
		return "bt709"
	}
	return "bt601"
}

// rgb tells whether the stored pictures are R'G'B', which need a matrix on
// their way to 4:2:0.
func (i *Info) rgb() bool {
	for _, name := range []string{"rgb", "bgr", "gbr", "pal8", "argb", "abgr"} {
		if strings.HasPrefix(i.pixels, name) {
			return true
		}
	}
	return false
}

// toneFilters brings pictures with the PQ transfer function to the ordinary
// range, on luma alone: the decoded light, cd/m², in units of the reference
// white, bent softly to 1 from 0.75 on, to the power 1/2.4. That is enough to
// see by; colours come out a little pale. HLG pictures are left as they are,
// since that curve is made to be shown on ordinary screens.
//
// PQ: ITU-R BT.2100-2, table 4. Reference white of 203 cd/m²: ITU-R BT.2408.
// Gamma of 2.4: ITU-R BT.1886. The bend: common practice, no source.
func (i *Info) toneFilters() []string {
	if i.HDR != "pq" {
		return nil
	}
	const light = `10000/203*pow(max(ld(0)-0.8359375\,0)/(18.8515625-18.6875*ld(0))\,1/0.1593017578125)`
	const bend = `if(lt(ld(1)\,0.75)\,ld(1)\,1-0.25*exp((0.75-ld(1))/0.25))`
	return []string{`lutyuv=y='st(0\,pow(clip((val-minval)/(maxval-minval)\,0\,1)\,1/78.84375))*0` +
		`+st(1\,` + light + `)*0+minval+(maxval-minval)*pow(` + bend + `\,1/2.4)'`}
}
