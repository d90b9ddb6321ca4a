package judge

import "strings"

// Caution is a warning that goes with every judgement, and where it comes
// from: a paper, or "common practice, no source".
type Caution struct {
	Text, Source string
}

// Cautions gives the warnings, which are shown whatever the verdict, in the
// order of their weight.
func Cautions() []Caution {
	return []Caution{
		{"Pain means stop: end the run, and do not practise a change into pain. Pain that is worse the next morning means do less.",
			"Silbernagel et al. 2007 Am J Sports Med 35:897–906 (pain monitoring); stopping at once is common practice, no source"},
		{"See a doctor or physiotherapist before going on with pain at one spot of a bone, pain at night or at rest, a limp, swelling, numbness, weakness, or pain that has not settled within a day; go at once with chest pain or faintness.",
			"usual clinical teaching, from memory; a bone stress injury needs a clinician early: PMC7049623"},
		{"Ask a clinician first after a recent operation or stress fracture, with pain now, in pregnancy or with any illness that bears on running.",
			"common practice, no source"},
		{"Change one thing at a time, and slowly: a few minutes of an easy run at first, and cadence by at most 5 % at a time.",
			"common practice, no source; that quick changes of load show in the bones of the foot: Ridge et al. 2013 Med Sci Sports Exerc 45:1363–1368"},
		{"A different landing or cadence puts more load on the calf, the Achilles tendon and the forefoot: expect them to tire, and go back a step when they are sore.",
			"Almonroeder et al. 2013 doi 10.1007/s10439-013-0819-1 (Achilles load 11 % higher per step without a rearfoot landing); going back a step is common practice, no source"},
		{"A change of form moves load from one part of the body to another, and whether it changes the number of injuries is not known.",
			"Anderson et al. 2022 doi 10.1186/s40798-022-00504-0"},
		{"A band tells what was measured on groups of runners: to lie outside is no fault by itself, and changing the form of a runner without trouble is not backed by evidence.",
			"Souza 2016 doi 10.1016/j.pmr.2015.08.006; Moore 2016 doi 10.1007/s40279-016-0474-4"},
		{"This is not a medical device: it gives no diagnosis and takes no clinician's place.",
			"statement of purpose"},
		{"Film only with the runner's consent, keep and share the footage only as the local privacy law allows, and film minors only with the consent of a parent or guardian.",
			"common practice, no source; the law of the place decides"},
	}
}

// WalkingCautions gives the warnings that go with the recording of a walk, of
// which steps are counted and nothing is judged.
func WalkingCautions() []Caution {
	var out []Caution
	for _, c := range Cautions() {
		if strings.HasPrefix(c.Text, "See a doctor") || strings.Contains(c.Text, "not a medical device") {
			out = append(out, c)
		}
	}
	return append(out, Caution{
		"Record only with the wearer's consent, keep and share the recording only as the local privacy law allows, and record minors only with the consent of a parent or guardian.",
		"common practice, no source; the law of the place decides",
	})
}

// PracticeCautions gives the warnings that go with a runner's practice by
// themselves, of which files of a watch are read.
func PracticeCautions() []Caution {
	var out []Caution
	for _, c := range Cautions() {
		if !strings.HasPrefix(c.Text, "Film only") && !strings.HasPrefix(c.Text, "A band tells") {
			out = append(out, c)
		}
	}
	return append(out, Caution{
		"Keep and share what a watch recorded only with the wearer's consent, and only as the local privacy law allows; for minors, a parent or guardian agrees.",
		"common practice, no source; the law of the place decides",
	})
}

func cautionTexts() []string { return textsOf(Cautions()) }

func textsOf(cautions []Caution) []string {
	var texts []string
	for _, c := range cautions {
		texts = append(texts, c.Text)
	}
	return texts
}
