// Package practicetest takes an activity and gives the bytes of a FIT or GPX
// file that holds it, for the tests of those that read such files.
package practicetest

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/proto"

	"plumbstride/internal/practice"
)

// FIT writes activities as one FIT file with a session each.
func FIT(activities ...practice.Activity) ([]byte, error) {
	first := activities[0]
	messages := []proto.Message{
		mesgdef.NewFileId(nil).SetType(typedef.FileActivity).SetTimeCreated(first.Start).ToMesg(nil),
	}
	for _, a := range activities {
		messages = append(messages, event(a.Start, typedef.EventTypeStart))
		end := a.Start
		for i, p := range a.Points {
			at := a.Start.Add(time.Duration(p.AtS * float64(time.Second)))
			if i > 0 {
				// A point that stood for less than until the next was followed by a pause.
				before := a.Points[i-1]
				if stopped := before.AtS + before.HoldS; before.HoldS < 10 && stopped < p.AtS-0.5 {
					messages = append(messages, event(a.Start.Add(time.Duration(stopped*float64(time.Second))), typedef.EventTypeStopAll), event(at, typedef.EventTypeStart))
				}
			}
			messages = append(messages, record(at, p))
			end = at
		}
		messages = append(messages, event(end, typedef.EventTypeStopAll))
		s := mesgdef.NewSession(nil).SetTimestamp(end).SetStartTime(a.Start).SetSport(sport(a.Sport)).
			SetTotalElapsedTimeScaled(end.Sub(a.Start).Seconds())
		if a.Strides > 0 {
			s.SetTotalCycles(uint32(a.Strides))
		}
		if a.DistanceM > 0 {
			s.SetTotalDistanceScaled(a.DistanceM)
		}
		messages = append(messages, s.ToMesg(nil))
	}
	var b bytes.Buffer
	if err := encoder.New(&b).Encode(&proto.FIT{Messages: messages}); err != nil {
		return nil, fmt.Errorf("practicetest: %w", err)
	}
	return b.Bytes(), nil
}

func event(at time.Time, kind typedef.EventType) proto.Message {
	return mesgdef.NewEvent(nil).SetTimestamp(at).SetEvent(typedef.EventTimer).SetEventType(kind).ToMesg(nil)
}

func sport(word string) typedef.Sport {
	for _, s := range []typedef.Sport{typedef.SportRunning, typedef.SportWalking, typedef.SportCycling, typedef.SportHiking} {
		if s.String() == word {
			return s
		}
	}
	return typedef.SportGeneric
}

func record(at time.Time, p practice.Point) proto.Message {
	r := mesgdef.NewRecord(nil).SetTimestamp(at)
	if !math.IsNaN(p.Cadence) {
		whole, part := math.Modf(p.Cadence)
		r.SetCadence(uint8(whole)).SetFractionalCadenceScaled(part)
	}
	if !math.IsNaN(p.SpeedMPS) {
		r.SetEnhancedSpeedScaled(p.SpeedMPS)
	}
	if !math.IsNaN(p.AltitudeM) {
		r.SetEnhancedAltitudeScaled(p.AltitudeM)
	}
	return r.ToMesg(nil)
}

// GPX writes an activity as one track that runs due north from a place in the
// middle of an ocean, with cadence as it stands in a point's extension.
func GPX(a practice.Activity) []byte {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="practicetest" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:example:track-point">
<trk><type>` + a.Sport + "</type><trkseg>\n")
	const perDegree = 6_371_008.8 * math.Pi / 180
	way := 0.0
	for _, p := range a.Points {
		at := a.Start.Add(time.Duration(p.AtS * float64(time.Second)))
		fmt.Fprintf(&b, `<trkpt lat="%.8f" lon="-40">`, way/perDegree)
		if !math.IsNaN(p.AltitudeM) {
			fmt.Fprintf(&b, "<ele>%.1f</ele>", p.AltitudeM)
		}
		fmt.Fprintf(&b, "<time>%s</time>", at.Format(time.RFC3339Nano))
		if !math.IsNaN(p.Cadence) {
			fmt.Fprintf(&b, "<extensions><x:TrackPointExtension><x:cad>%.0f</x:cad></x:TrackPointExtension></extensions>", p.Cadence)
		}
		b.WriteString("</trkpt>\n")
		if !math.IsNaN(p.SpeedMPS) {
			way += p.SpeedMPS * p.HoldS
		}
	}
	b.WriteString("</trkseg></trk></gpx>\n")
	return []byte(b.String())
}
