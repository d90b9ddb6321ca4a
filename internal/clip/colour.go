package clip

import "strings"

// span is ffmpeg's word for the range of luma.
func (i *Info) span() string {
	if i.full {
		return "pc"
	}
	return "tv"
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

// toneFilters brings high-dynamic-range pictures to the ordinary range.
func (i *Info) toneFilters() []string { return nil }
