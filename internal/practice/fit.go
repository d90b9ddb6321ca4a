package practice

import (
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"

	"plumbstride/internal/form"
)

// readFIT reads the activities of a FIT file; several files may stand one
// after the other in it, and several sessions in one.
func readFIT(r io.Reader) ([]Activity, error) {
	var all []Activity
	l := &fitListener{}
	d := decoder.New(r, decoder.WithBroadcastOnly(), decoder.WithMesgListener(l))
	for d.Next() {
		*l = fitListener{room: maxPoints}
		if _, err := d.Decode(); err != nil {
			return nil, damaged(err)
		}
		if l.room < 0 {
			return nil, form.ClipError("the file holds more than %d points; an activity file has far fewer", maxPoints)
		}
		all = append(all, l.activities()...)
		if len(all) > maxActivities {
			return nil, errTooMany()
		}
	}
	if len(all) == 0 {
		return nil, form.ClipError("no activity is in the file: it may hold a course, a workout or the watch's settings; export the run itself")
	}
	return all, nil
}

// maxActivities is more than anybody exports in one file.
const maxActivities = 200

func errTooMany() error {
	return form.ClipError("the file holds more than %d activities; export fewer at a time", maxActivities)
}

// fitPoint is a record with its own clock.
type fitPoint struct {
	at time.Time
	Point
}

// fitSession is one part of a recording, of one sport.
type fitSession struct {
	start, end time.Time
	sport      string
	strides    int
	distanceM  float64
}

// fitListener gathers what matters of one file's messages.
type fitListener struct {
	room     int // how many more points there may be
	points   []fitPoint
	sessions []fitSession
	stops    []fitStop
	sport    string
	record   mesgdef.Record
}

// fitStop is the timer, stopped or going again.
type fitStop struct {
	at   time.Time
	goes bool
}

// OnMesg takes one message.
func (l *fitListener) OnMesg(m proto.Message) {
	switch m.Num {
	case mesgnum.Record:
		if l.room--; l.room < 0 {
			return
		}
		l.record.Reset(&m)
		if l.record.Timestamp.IsZero() {
			return
		}
		l.points = append(l.points, fitPoint{l.record.Timestamp, fitValues(&l.record)})
	case mesgnum.Event:
		e := mesgdef.NewEvent(&m)
		if e.Event != typedef.EventTimer || len(l.stops) > maxPoints {
			return
		}
		switch e.EventType {
		case typedef.EventTypeStart:
			l.stops = append(l.stops, fitStop{e.Timestamp, true})
		case typedef.EventTypeStop, typedef.EventTypeStopAll, typedef.EventTypeStopDisable, typedef.EventTypeStopDisableAll:
			l.stops = append(l.stops, fitStop{e.Timestamp, false})
		}
	case mesgnum.Session:
		if len(l.sessions) <= maxActivities {
			l.sessions = append(l.sessions, fitSessionOf(mesgdef.NewSession(&m)))
		}
	case mesgnum.Sport:
		l.sport = sportWord(mesgdef.NewSport(&m).Sport)
	}
}

// fitValues is what a record says. Cadence is in strides a minute, with its
// fraction in a field of its own; an enhanced field goes before the plain one.
func fitValues(r *mesgdef.Record) Point {
	p := Point{Cadence: math.NaN(), SpeedMPS: r.EnhancedSpeedScaled(), AltitudeM: r.EnhancedAltitudeScaled()}
	if r.Cadence != basetype.Uint8Invalid {
		p.Cadence = float64(r.Cadence)
		if f := r.FractionalCadenceScaled(); known(f) {
			p.Cadence += f
		}
	} else if r.Cadence256 != basetype.Uint16Invalid {
		p.Cadence = r.Cadence256Scaled()
	}
	if !known(p.SpeedMPS) {
		p.SpeedMPS = r.SpeedScaled()
	}
	if !known(p.AltitudeM) {
		p.AltitudeM = r.AltitudeScaled()
	}
	return p
}

func fitSessionOf(s *mesgdef.Session) fitSession {
	out := fitSession{start: s.StartTime, sport: sportWord(s.Sport)}
	if e := s.TotalElapsedTimeScaled(); known(e) && e < 1e7 {
		out.end = s.StartTime.Add(time.Duration(e * float64(time.Second)))
	}
	if s.TotalCycles != basetype.Uint32Invalid && s.TotalCycles < 10_000_000 {
		out.strides = int(s.TotalCycles)
	}
	if d := s.TotalDistanceScaled(); known(d) && d < 1e7 {
		out.distanceM = d
	}
	return out
}

// sportWord is a sport's word, empty where the file doesn't say.
func sportWord(s typedef.Sport) string {
	if s == typedef.SportInvalid || s == typedef.SportGeneric {
		return ""
	}
	word := strings.ToLower(s.String())
	if strings.Contains(word, "invalid") {
		return "another sport"
	}
	return word
}

// activities are the parts that hold points.
func (l *fitListener) activities() []Activity {
	sessions := slices.DeleteFunc(l.sessions, func(s fitSession) bool { return s.start.IsZero() })
	if len(sessions) == 0 {
		sessions = []fitSession{{sport: l.sport}}
	}
	slices.SortStableFunc(sessions, func(a, b fitSession) int { return a.start.Compare(b.start) })
	var out []Activity
	for i, s := range sessions {
		until := time.Time{} // without end
		if i+1 < len(sessions) {
			until = sessions[i+1].start
		}
		if a, err := l.part(s, i == 0, until); err == nil {
			out = append(out, a)
		}
	}
	return out
}

var errNoPoints = errors.New("no points")

// part is one session's activity: the points from its start until the next
// one's.
func (l *fitListener) part(s fitSession, first bool, until time.Time) (Activity, error) {
	a := Activity{Format: FIT, Sport: s.sport, Strides: s.strides, DistanceM: s.distanceM}
	if a.Sport == "" {
		a.Sport = l.sport
	}
	var last time.Time
	for _, p := range l.points {
		if (!first && p.at.Before(s.start)) || (!until.IsZero() && !p.at.Before(until)) {
			continue
		}
		if last.IsZero() {
			a.Start = p.at.UTC()
		} else if !p.at.After(last) {
			a.Backwards++
			continue
		}
		last = p.at
		p.AtS = p.at.Sub(a.Start).Seconds()
		a.Points = append(a.Points, p.Point)
	}
	if len(a.Points) == 0 {
		return a, errNoPoints
	}
	hold(a.Points, l.pauses(a.Start))
	return a, nil
}

// pauses are the spans between stop and start, in seconds from a time on.
func (l *fitListener) pauses(start time.Time) []pause {
	stops := slices.Clone(l.stops)
	slices.SortStableFunc(stops, func(a, b fitStop) int { return a.at.Compare(b.at) })
	var out []pause
	from := math.NaN()
	for _, s := range stops {
		at := s.at.Sub(start).Seconds()
		switch {
		case !s.goes && !known(from):
			from = at
		case s.goes && known(from):
			out = append(out, pause{from, at})
			from = math.NaN()
		}
	}
	if known(from) {
		out = append(out, pause{from, math.Inf(1)})
	}
	return out
}
