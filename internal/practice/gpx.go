package practice

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/text/encoding/charmap"

	"plumbstride/internal/form"
)

// Bounds of a GPX file: elements within elements, and the letters of one
// value.
const (
	maxDepth  = 32
	maxLetter = 200
)

// readGPX reads the tracks of a GPX file (GPX 1.1, and 1.0 where it says the
// same). Cadence and speed are taken from a point's extensions by their local
// names, cad or cadence and speed, in whatever namespace they stand. Each trk
// is an activity; between its segments the watch was stopped.
func readGPX(r io.Reader) ([]Activity, error) {
	d := xml.NewDecoder(r)
	d.CharsetReader = charset
	g := &gpxReader{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.Is(err, errCharset) {
			return nil, form.ClipError("the file's letters are written in a way that isn't known here; export it as UTF-8")
		}
		if err != nil {
			return nil, damaged(err)
		}
		switch v := token.(type) {
		case xml.StartElement:
			err = g.open(v)
		case xml.EndElement:
			err = g.close()
		case xml.CharData:
			g.text(v)
		}
		if err != nil {
			return nil, err
		}
	}
	if len(g.done) == 0 {
		return nil, form.ClipError("no recorded track with times is in the file: a route or places alone can't be read; export the run itself")
	}
	return g.done, nil
}

var errCharset = errors.New("unknown encoding")

// charset reads the encodings that GPX files come in besides UTF-8.
func charset(name string, r io.Reader) (io.Reader, error) {
	switch strings.ToLower(name) {
	case "utf-8", "utf8", "us-ascii":
		return r, nil
	case "iso-8859-1", "latin1", "windows-1252":
		return charmap.Windows1252.NewDecoder().Reader(r), nil
	default:
		return nil, errCharset
	}
}

// gpxPoint is a point with its place; it lives only while its track is read.
type gpxPoint struct {
	at       time.Time
	lat, lon float64 // degrees, NaN where unknown
	Point
}

// gpxReader goes through the elements.
type gpxReader struct {
	path  []string // local names, the root first
	value strings.Builder
	sport string
	point *gpxPoint
	track []gpxPoint
	stops []int // where a segment ends: the number of points before it
	total int
	done  []Activity
}

func (g *gpxReader) open(e xml.StartElement) error {
	if len(g.path) >= maxDepth {
		return form.ClipError("the file's elements stand more than %d deep in one another; that is no track", maxDepth)
	}
	if len(g.path) == 0 && e.Name.Local != "gpx" {
		return form.ClipError("this XML is not GPX; export the run from the watch as GPX or FIT")
	}
	g.path = append(g.path, e.Name.Local)
	g.value.Reset()
	switch e.Name.Local {
	case "trk":
		g.track, g.stops, g.sport = nil, nil, ""
	case "trkpt":
		if g.total++; g.total > maxPoints {
			return form.ClipError("the file holds more than %d points; an activity file has far fewer", maxPoints)
		}
		nan := math.NaN()
		g.point = &gpxPoint{lat: nan, lon: nan, Point: Point{Cadence: nan, SpeedMPS: nan, AltitudeM: nan}}
		for _, a := range e.Attr {
			switch a.Name.Local {
			case "lat":
				g.point.lat = bounded(a.Value, -90, 90)
			case "lon":
				g.point.lon = bounded(a.Value, -180, 180)
			}
		}
	}
	return nil
}

func (g *gpxReader) text(t xml.CharData) {
	if g.value.Len() < maxLetter {
		g.value.Write(t[:min(len(t), maxLetter-g.value.Len())])
	}
}

func (g *gpxReader) close() error {
	name, value := g.path[len(g.path)-1], strings.TrimSpace(g.value.String())
	g.path = g.path[:len(g.path)-1]
	g.value.Reset()
	switch {
	case name == "trkpt" && g.point != nil:
		if !g.point.at.IsZero() {
			g.track = append(g.track, *g.point)
		}
		g.point = nil
	case name == "trkseg":
		g.stops = append(g.stops, len(g.track))
	case name == "trk":
		if len(g.track) > 0 {
			g.done = append(g.done, g.activity())
		}
		if len(g.done) > maxActivities {
			return errTooMany()
		}
	case g.point != nil:
		g.point.take(name, value)
	case name == "type" && len(g.path) > 0 && g.path[len(g.path)-1] == "trk":
		g.sport = sportOf(value)
	}
	return nil
}

// take fills in one value of a point.
func (p *gpxPoint) take(name, value string) {
	switch strings.ToLower(name) {
	case "time":
		if at, err := time.Parse(time.RFC3339, value); err == nil {
			p.at = at.UTC()
		}
	case "ele":
		p.AltitudeM = bounded(value, -500, 9000)
	case "cad", "cadence":
		p.Cadence = bounded(value, 0, 254)
	case "speed":
		p.SpeedMPS = bounded(value, 0, 40)
	}
}

// bounded reads a number between two bounds; NaN for anything else.
func bounded(value string, low, high float64) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
	if err != nil || !(v >= low && v <= high) {
		return math.NaN()
	}
	return v
}

// sportOf is a track's type as a sport's word: writers call a run by many
// names, among them the number 9 (common practice, no source).
func sportOf(value string) string {
	v := strings.ToLower(value)
	has := func(parts ...string) bool {
		for _, p := range parts {
			if strings.Contains(v, p) {
				return true
			}
		}
		return false
	}
	switch {
	case v == "":
		return ""
	case v == "9" || has("run", "jog", "treadmill"):
		return running
	case v == "1" || has("cycl", "bik", "ride"):
		return cycling
	case has("walk"):
		return walking
	case has("hik"):
		return hiking
	case has("swim", "row", "ski", "skat", "paddl", "swimming"):
		return "another sport"
	default:
		return ""
	}
}

// activity is the track that was just read.
func (g *gpxReader) activity() Activity {
	a := Activity{Format: GPX, Sport: g.sport, Start: g.track[0].at}
	speeds := speedsByPlace(g.track, g.stops)
	var pauses []pause
	last, stop := -1.0, 0
	for i, p := range g.track {
		at := p.at.Sub(a.Start).Seconds()
		for stop < len(g.stops) && g.stops[stop] < i {
			stop++
		}
		if i > 0 && at <= last {
			a.Backwards++
			continue
		}
		if i > 0 && stop < len(g.stops) && g.stops[stop] == i {
			pauses = append(pauses, pause{last + 1, at})
		}
		last, p.AtS = at, at
		if !known(p.SpeedMPS) {
			p.SpeedMPS = speeds[i]
		}
		a.Points = append(a.Points, p.Point)
	}
	hold(a.Points, pauses)
	return a
}

// speedsByPlace gives each point's speed over the ground, m/s, from the places
// about three seconds before and after it in its segment; NaN where there are
// none. Over six seconds a place that is off by a metre or two changes the
// speed by less than a tenth of a run's.
func speedsByPlace(track []gpxPoint, stops []int) []float64 {
	const reach = 3 * time.Second
	out := make([]float64, len(track))
	begin := 0
	for _, end := range slices.Concat(stops, []int{len(track)}) {
		if end < begin {
			continue
		}
		lo, hi := begin, begin
		for i := begin; i < end; i++ {
			for lo < i && track[i].at.Sub(track[lo].at) > reach {
				lo++
			}
			for hi+1 < end && track[hi].at.Sub(track[i].at) < reach {
				hi++
			}
			a, b := track[min(lo, i)], track[max(hi, i)]
			out[i] = math.NaN()
			if s := b.at.Sub(a.at).Seconds(); s > 0 && s <= 4*maxHoldS {
				out[i] = distanceM(a, b) / s
			}
		}
		begin = end
	}
	return out
}

// distanceM is the way between two places on a ball of the Earth's mean
// radius, by the haversine formula.
func distanceM(a, b gpxPoint) float64 {
	const radius, deg = 6_371_008.8, math.Pi / 180
	dLat, dLon := (b.lat-a.lat)*deg, (b.lon-a.lon)*deg
	h := math.Pow(math.Sin(dLat/2), 2) + math.Cos(a.lat*deg)*math.Cos(b.lat*deg)*math.Pow(math.Sin(dLon/2), 2)
	return 2 * radius * math.Asin(math.Sqrt(min(1, h)))
}
