package clip

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// probed is what one ffprobe run says about a file.
type probed struct {
	Packets []packet `json:"packets"`
	Streams []stream `json:"streams"`
	Format  format   `json:"format"`
}

// packet is one coded picture, in the order of the file. Times are in ticks
// of the stream's time base.
type packet struct {
	Stream   int     `json:"stream_index"`
	PTS      integer `json:"pts"`
	DTS      integer `json:"dts"`
	Duration integer `json:"duration"`
	Size     integer `json:"size"`
	Flags    string  `json:"flags"`
}

// stream is one picture track.
type stream struct {
	Index        int            `json:"index"`
	Codec        string         `json:"codec_name"`
	Width        int            `json:"width"`
	Height       int            `json:"height"`
	Aspect       ratio          `json:"sample_aspect_ratio"`
	PixelFormat  string         `json:"pix_fmt"`
	Range        string         `json:"color_range"`
	Space        string         `json:"color_space"`
	Transfer     string         `json:"color_transfer"`
	FieldOrder   string         `json:"field_order"`
	AverageRate  ratio          `json:"avg_frame_rate"`
	TimeBase     ratio          `json:"time_base"`
	Frames       integer        `json:"nb_frames"`
	Duration     decimal        `json:"duration"`
	Disposition  map[string]int `json:"disposition"`
	Tags         tags           `json:"tags"`
	SideDataList []sideData     `json:"side_data_list"`
}

type format struct {
	Streams  int     `json:"nb_streams"`
	Duration decimal `json:"duration"`
	Tags     tags    `json:"tags"`
}

// tags are the metadata of a file or stream, as written there.
type tags map[string]string

// get looks a key up without regard to case; "" where it is absent.
func (t tags) get(key string) string {
	if v, ok := t[key]; ok {
		return v
	}
	for k, v := range t {
		if strings.EqualFold(k, key) {
			return v
		}
	}
	return ""
}

type sideData struct {
	Matrix   string   `json:"displaymatrix"`
	Rotation *decimal `json:"rotation"`
}

// integer is a whole number that ffprobe writes bare or in quotes, or leaves out.
type integer struct {
	Value int64
	Known bool
}

// UnmarshalJSON reads 12, "12" and "N/A"; anything else is unknown.
func (n *integer) UnmarshalJSON(data []byte) error {
	v, err := strconv.ParseInt(string(bytes.Trim(data, `"`)), 10, 64)
	*n = integer{Value: v, Known: err == nil}
	if err != nil {
		n.Value = 0
	}
	return nil
}

// decimal is a finite number, bare or in quotes; 0 where it is unknown.
type decimal float64

// UnmarshalJSON reads 1.5, "1.5" and "N/A"; anything else is 0.
func (d *decimal) UnmarshalJSON(data []byte) error {
	v, err := strconv.ParseFloat(string(bytes.Trim(data, `"`)), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	*d = decimal(v)
	return nil
}

// ratio is a fraction of whole numbers, "30000/1001" or "4:3"; 0/0 where unknown.
type ratio struct{ Num, Den int64 }

// UnmarshalJSON reads "a/b" and "a:b" with b > 0 and a ≥ 0; anything else is 0/0.
func (r *ratio) UnmarshalJSON(data []byte) error {
	*r = ratio{}
	text := string(bytes.Trim(data, `"`))
	at := strings.IndexAny(text, "/:")
	if at < 0 {
		return nil
	}
	num, err1 := strconv.ParseInt(text[:at], 10, 64)
	den, err2 := strconv.ParseInt(text[at+1:], 10, 64)
	if err1 == nil && err2 == nil && num >= 0 && den > 0 {
		*r = ratio{num, den}
	}
	return nil
}

// float is the fraction as a number; 0 where unknown.
func (r ratio) float() float64 {
	if r.Den == 0 {
		return 0
	}
	return float64(r.Num) / float64(r.Den)
}

// parseProbe reads ffprobe's JSON. Whatever the file's own texts hold, the
// result is well formed: unknown numbers are marked so, nothing is infinite.
func parseProbe(data []byte) (*probed, error) {
	var p probed
	if err := json.Unmarshal(data, &p); err != nil {
		return nil, fmt.Errorf("clip: ffprobe's answer can't be read: %w", err)
	}
	return &p, nil
}

// turn is how a stored picture is turned to be shown: first mirrored left to
// right if Mirror is set, then rotated clockwise by Degrees (0, 90, 180, 270).
type turn struct {
	Degrees int
	Mirror  bool
}

// swaps tells whether width and height change places.
func (t turn) swaps() bool { return t.Degrees%180 != 0 }

// filters are ffmpeg's for the turn.
func (t turn) filters() []string {
	var f []string
	if t.Mirror {
		f = append(f, "hflip")
	}
	switch t.Degrees {
	case 90:
		f = append(f, "transpose=clock")
	case 180:
		f = append(f, "hflip", "vflip")
	case 270:
		f = append(f, "transpose=cclock")
	}
	return f
}

// turn gives how the stream is to be turned, from its display matrix, else
// from the older rotate tag (clockwise degrees). A tilt that is no quarter
// turn is taken to the nearest one: the level is found from the runner.
func (s *stream) turn() turn {
	for _, d := range s.SideDataList {
		if a, b, c, e, ok := parseMatrix(d.Matrix); ok {
			return matrixTurn(a, b, c, e)
		}
		if d.Rotation != nil {
			return turn{Degrees: quarter(-float64(*d.Rotation))}
		}
	}
	if v, err := strconv.ParseFloat(s.Tags.get("rotate"), 64); err == nil {
		return turn{Degrees: quarter(v)}
	}
	return turn{}
}

// quarter rounds an angle in degrees to 0, 90, 180 or 270.
func quarter(degrees float64) int {
	if math.IsNaN(degrees) || math.IsInf(degrees, 0) {
		return 0
	}
	q := math.Mod(math.Round(math.Mod(degrees, 360)/90)+4, 4)
	return int(q) * 90
}

// matrixTurn takes the upper left 2×2 of a display matrix (ISO/IEC 14496-12,
// 6.2.2 and 8.3.2): a stored pixel (x, y) is shown at (a·x + c·y, b·x + d·y).
func matrixTurn(a, b, c, d float64) turn {
	mirror := a*d-b*c < 0
	if mirror {
		// Undo the mirroring first: x → −x turns (a, b) round.
		a, b = -a, -b
	}
	return turn{Degrees: quarter(math.Atan2(b, a) * 180 / math.Pi), Mirror: mirror}
}

// parseMatrix reads ffprobe's print of a display matrix, three lines of
// "00000000:  a  b  u", and gives a, b, c, d.
func parseMatrix(text string) (a, b, c, d float64, ok bool) {
	var rows [][]float64
	for line := range strings.Lines(text) {
		fields := strings.Fields(line)
		if len(fields) != 4 {
			continue
		}
		row := make([]float64, 2)
		for i := range row {
			v, err := strconv.ParseInt(fields[i+1], 10, 64)
			if err != nil {
				return 0, 0, 0, 0, false
			}
			row[i] = float64(v)
		}
		rows = append(rows, row)
	}
	if len(rows) < 2 {
		return 0, 0, 0, 0, false
	}
	a, b, c, d = rows[0][0], rows[0][1], rows[1][0], rows[1][1]
	return a, b, c, d, a*d-b*c != 0
}
