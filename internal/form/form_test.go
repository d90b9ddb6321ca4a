package form

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"testing"
)

func TestJointsAreNumberedOnce(t *testing.T) {
	seen := map[Joint]bool{}
	for p := Nose; p < numPoints; p++ {
		for _, s := range []Side{Left, Right} {
			j := At(p, s)
			if int(j) >= NumJoints || j.Point() != p || (p != Nose && j.Side() != s) {
				t.Errorf("%s %s is joint %d: %s", s, p, j, j)
			}
			seen[j] = true
		}
	}
	if len(seen) != NumJoints {
		t.Errorf("%d joints, want %d", len(seen), NumJoints)
	}
	defer func() {
		if recover() == nil {
			t.Error("a hip of no side does not panic")
		}
	}()
	At(Hip, Both)
}

func TestWordsComeBack(t *testing.T) {
	for _, s := range []Side{Both, Left, Right, Mid} {
		text, err := json.Marshal(s)
		var back Side
		if err != nil || json.Unmarshal(text, &back) != nil || back != s {
			t.Errorf("%v became %s", s, text)
		}
		if s.Other().Other() != s {
			t.Errorf("%v has no opposite", s)
		}
	}
	for p := Nose; p < numPoints; p++ {
		if back, err := ParsePoint(p.String()); err != nil || back != p {
			t.Errorf("%v became %v", p, back)
		}
	}
	if _, err := ParsePoint("tail"); err == nil {
		t.Error("a tail is taken for a body point")
	}
}

// Tables of the normal distribution: 1.96 sd hold 95 %; one sd beyond a
// limit, 84.13 % lie outside.
func TestIntervalAndProbability(t *testing.T) {
	m := With95("x", Both, "deg", 10, 2, 5)
	if m.Low != 10-3.92 || m.High != 10+3.92 {
		t.Errorf("interval %v…%v", m.Low, m.High)
	}
	m.Band = &Band{Low: math.NaN(), High: 8}
	if p := m.ProbabilityOutside(); math.Abs(p-0.841345) > 1e-6 {
		t.Errorf("above an open band: %v", p)
	}
	m.Band = &Band{Low: 8, High: 12}
	if p := m.ProbabilityOutside(); math.Abs(p-2*0.158655) > 1e-6 {
		t.Errorf("in the middle of a band of one sd: %v", p)
	}
	m.Band = nil
	if m.ProbabilityOutside() != 0 {
		t.Error("without a band nothing lies outside")
	}
}

func TestErrorsCarryCodeSentenceAndCause(t *testing.T) {
	err := fmt.Errorf("check: %w", ClipError("the clip ends early: %w", io.ErrUnexpectedEOF))
	if CodeOf(err) != CodeClip || !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("code %q of %v", CodeOf(err), err)
	}
	if CodeOf(io.EOF) != "" {
		t.Error("a plain error has no code")
	}
}
