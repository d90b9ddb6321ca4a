package plan

import (
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
)

// Rule is one rule by which a plan was made, and where it comes from.
type Rule struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

// Caution is a warning that goes with every plan, and where it comes from.
type Caution struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

// PainBand is what to do at a pain of Low to High, on a scale from 0, none,
// to 10, the worst imaginable.
type PainBand struct {
	Low    int    `json:"low"`
	High   int    `json:"high"`
	Do     string `json:"do"`
	Source string `json:"source"`
}

// PainRule gives what to do at each pain from 0 to 10, without a gap. It
// stops earlier than the monitoring model from which its limits come, since
// that was made for patients under care.
func PainRule() []PainBand {
	source := "limits after the pain-monitoring model (Silbernagel et al. 2007 Am J Sports Med 35:897–906: up to 3 safe, 4 to 5 acceptable, more not); that we stop earlier is " + NoSource
	return []PainBand{
		{0, 0, "Go on as planned.", source},
		{1, 3, "Stop practising the change and run or walk home easily. If it is gone by the next morning, repeat the last session that did not hurt. If not, leave the practice until it is.", source},
		{4, 5, "Stop the run and walk. Do not practise again before a day without pain. If it comes back, or has not settled within a day, see a doctor or physiotherapist.", source},
		{6, 10, "Stop, and see a doctor or physiotherapist before you run again.", source},
	}
}

// StopFor gives the signs with which nobody goes on, whatever the number
// (usual clinical teaching, from memory; that a bone stress injury needs a
// clinician early: PMC7049623).
func StopFor() []string {
	return []string{
		"Go at once to a doctor with chest pain, faintness or trouble breathing; with numbness between the legs or trouble holding urine; or with a swollen, hot calf.",
		"See a doctor or physiotherapist before running on with pain at one spot of a bone or pain on hopping; pain at night or at rest; a limp; swelling; numbness or weakness; fever or weight loss without a reason; or pain that has not settled within a day or grows from week to week.",
	}
}

// first is what must be read before anything else.
func first(p Plan) []string {
	lines := []string{}
	if stops := p.Ask.Health.stops(); len(stops) > 0 {
		var names []string
		for _, r := range stops {
			names = append(names, nameOf(r))
		}
		lines = append(lines,
			fmt.Sprintf("This plan was made with %s stated, on the coach's note: %s", and(names), p.Ask.Note),
			"The minutes stay at nine tenths of the usual week throughout.")
		if p.Ask.Health.Has(Heart) {
			lines = append(lines, "With chest pain, faintness or dizziness: stop, and get help at once. Do not run before a doctor has said so.")
		}
	}
	if p.Ask.Health.Has(CalfTrouble) {
		lines = append(lines, "Because of earlier trouble with calf, Achilles tendon or forefoot, the practised part is half as long, and drills that load them are left out.")
	}
	return lines
}

// rules are those by which the plan was made.
func rules(p Plan) []Rule {
	list := []Rule{
		{fmt.Sprintf("The running of a week starts at nine tenths of the stated usual week, never rises by more than %.0f %% from one week to the next, and never above the usual.", MaxWeekRisePct),
			NoSource + "; that rises over 30 % went with more injuries than rises under 10 %: Nielsen et al. 2014 J Orthop Sports Phys Ther 44:739–747, from memory"},
		{fmt.Sprintf("Practice is at most half of a run, %d minutes at first and %d more each week, in at most %d runs a week.", firstPracticeMin, morePracticeMin, maxPractices), NoSource},
		{"One cue at a time, for two weeks or more.", NoSource},
	}
	if len(p.Steps) > 0 {
		list = append(list,
			Rule{fmt.Sprintf("Cadence rises from the runner's own measured %.0f steps/min, by at most %.0f %% a step and %.0f %% in all, each step held for %d weeks, and no further than where the band begins.",
				p.Ask.Cadence.StepsPerMin, MaxStepPct, MaxTotalPct, weeksPerStep),
				"steps of 5 % are " + NoSource + "; 7.5 and 10 % were held in trials: Willy et al. 2016 doi 10.1111/sms.12413, Wang et al. 2020 doi 10.7717/peerj.9813, Hafer et al. 2015 doi 10.1080/02640414.2014.962573"},
			Rule{"At the start of a step the beat is on for all of the practised part; it is taken away in even steps, down to a fifth, and to none by the plan's last practice.",
				"Winstein & Schmidt 1990, from memory; the numbers are " + NoSource})
	}
	return list
}

// cautions always go with a plan: those of every judgement, and with a
// change of landing or cadence the load on the calf first.
func cautions(p Plan) []Caution {
	var list []Caution
	if len(p.Steps) > 0 || slices.Contains([]string{judge.Landing, judge.Cadence, judge.Bounce}, p.Ask.Area) {
		list = append(list, Caution{
			"This plan changes how the foot meets the ground. Calf, Achilles tendon and forefoot may work harder: expect them to tire, keep the first weeks short, do not change to lighter or flatter shoes at the same time, and go back a step when they are sore the next morning.",
			"Almonroeder et al. 2013 doi 10.1007/s10439-013-0819-1 (Achilles load 11 % higher per step without a rearfoot landing); Ridge et al. 2013 Med Sci Sports Exerc 45:1363–1368 (bone-marrow oedema in 10 of 19 after ten weeks of lighter shoes); going back a step is " + NoSource,
		})
	}
	for _, c := range judge.Cautions() {
		list = append(list, Caution(c))
	}
	return list
}

// Title is a session in a few words: "Practice run, 32 min".
func (s Session) Title() string {
	if s.Practice {
		return fmt.Sprintf("Practice run, %d min", s.RunMin)
	}
	return fmt.Sprintf("Easy run, %d min", s.RunMin)
}

// Lines say what to do in a session, in order, one thing a line. c is the
// cadence that the plan starts from; nil where none is used.
func (s Session) Lines(c *Cadence, units quantity.Units) []string {
	if !s.Practice {
		return []string{"Run easily, and think of nothing in particular."}
	}
	easy := s.RunMin - s.DrillMin - s.PracticeMin
	lines := []string{fmt.Sprintf("Run easily for %d min.", (easy+1)/2)}
	for _, d := range s.Drills {
		lines = append(lines, fmt.Sprintf("%s, %d min.", d.Title, d.Minutes))
	}
	lines = append(lines, fmt.Sprintf("Practise for %d min: %s", s.PracticeMin, s.Cue))
	if s.Tempo != nil {
		lines = append(lines, s.Tempo.words(c, units))
	}
	return append(lines, fmt.Sprintf("Run easily for the last %d min.", easy/2))
}

func (t Tempo) words(c *Cadence, units quantity.Units) string {
	at := ""
	if c != nil && c.SpeedMS.Known() {
		at = fmt.Sprintf(" at the speed of the check, %s", units.Speed(float64(c.SpeedMS)))
	}
	switch t.SharePct {
	case 0:
		return fmt.Sprintf("No beat today: find %d steps/min%s by feel, and count for half a minute near the end.", t.StepsPerMin, at)
	case 100:
		return fmt.Sprintf("Beat at %d steps/min%s, on all the time.", t.StepsPerMin, at)
	default:
		return fmt.Sprintf("Beat at %d steps/min%s, in every five minutes on for %s and off for %s.", t.StepsPerMin, at, span(t.OnS), span(t.OffS))
	}
}

// span writes seconds as "3:30 min".
func span(s int) string { return fmt.Sprintf("%d:%02d min", s/60, s%60) }

// RecheckLines say what to do on the day to film again.
func (p Plan) RecheckLines(units quantity.Units) []string {
	line := "Film again as before: the same place and shoes, after the same warm-up, and without a beat."
	if c := p.Ask.Cadence; c != nil && c.SpeedMS.Known() && !math.IsNaN(float64(c.SpeedMS)) {
		line = fmt.Sprintf("Film again as before: the same place and shoes, after the same warm-up, at %s, and without a beat.", units.Speed(float64(c.SpeedMS)))
	}
	return []string{
		line,
		"Compare only what has changed by more than the error of the two measurements. Decide then whether to go on, to leave it, or to work on something else.",
	}
}
