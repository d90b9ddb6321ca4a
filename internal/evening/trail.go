package evening

import (
	"plumbstride/internal/roster"
	"plumbstride/internal/words"
)

// ByWhom names in the trail who has no account.
func ByWhom(b words.Book, kind string) string {
	switch kind {
	case "link":
		return b.Say("a private link")
	case "command":
		return b.Say("the command line")
	case "visitor":
		return b.Say("somebody at the door")
	case "program":
		return b.Say("the program itself")
	}
	return kind
}

// DidWhat is an action of the trail in words.
func DidWhat(b words.Book, action string) string {
	said := map[string]string{
		string(roster.See): b.Say("looked at"), string(roster.Add): b.Say("added"), string(roster.Change): b.Say("altered"),
		string(roster.Delete): b.Say("deleted"), string(roster.Confirm): b.Say("decided"), string(roster.Export): b.Say("took away"),
		"measure": b.Say("worked out"), "withdraw": b.Say("took back"), "revoke": b.Say("ended"), "forget": b.Say("forgot"),
		"purge": b.Say("removed what was over its time"), "sign-in": b.Say("signed in"), "sign-out": b.Say("signed out"),
		"refuse": b.Say("was refused"), "backup": b.Say("backed up"), "restore": b.Say("restored"), "send": b.Say("sent"),
	}[action]
	if said == "" {
		return action
	}
	return said
}

// OfWhat is a kind of thing in words.
func OfWhat(b words.Book, kind roster.Kind) string {
	said := map[roster.Kind]string{
		roster.ClassKind: b.Say("class"), roster.AttendanceKind: b.Say("attendance"), roster.RosterList: b.Say("the whole roster"),
		roster.RunnerKind: b.Say("runner"), roster.ContactKind: b.Say("contact"), roster.HealthKind: b.Say("answers about health"),
		roster.ConsentKind: b.Say("consent"), roster.ClipKind: b.Say("clip"), roster.PictureKind: b.Say("pictures"),
		roster.CheckKind: b.Say("check"), roster.PlanKind: b.Say("plan"), roster.PracticeKind: b.Say("practice"), roster.NoteKind: b.Say("note"), roster.MessageKind: b.Say("message"), roster.LinkKind: b.Say("private link"),
		roster.AccountKind: b.Say("account"), roster.AuditKind: b.Say("this trail"), roster.QueueKind: b.Say("queue"), roster.SettingKind: b.Say("setting"), roster.ClinicKind: b.Say("all classes together, without names"),
	}[kind]
	if said == "" {
		return string(kind)
	}
	return said
}
