package web

import "plumbstride/internal/roster"

// routes is every address of the site, with what roster's table must allow
// to whoever asks. A page action without a kind is open to everybody.
func (s *Site) routes() []route {
	return []route{
		// Coming in.
		{"GET /{$}", "", "", (*visit).home},
		{"GET /static/{file}", "", "", (*visit).static},
		{"GET /begin", "", "", (*visit).beginPage},
		{"POST /begin", "", "", (*visit).begin},
		{"GET /sign-in", "", "", (*visit).signInPage},
		{"POST /sign-in", "", "", (*visit).signIn},
		{"POST /language", "", "", (*visit).chooseLanguage},
		{"POST /sign-out", "", "", (*visit).signOut},
		// Whoever is signed in sees classes, and may change their own password.
		{"GET /password", roster.See, roster.ClassKind, (*visit).passwordPage},
		{"POST /password", roster.See, roster.ClassKind, (*visit).changePassword},
		{"GET /accounts", roster.See, roster.AccountKind, (*visit).accounts},
		{"POST /accounts", roster.Add, roster.AccountKind, (*visit).addAccount},
		{"POST /accounts/{account}", roster.Change, roster.AccountKind, (*visit).changeAccount},
		{"GET /trail", roster.See, roster.AuditKind, (*visit).trail},

		// Follow-up.
		{"GET /follow-up", roster.See, roster.MessageKind, (*visit).followUp},
		{"GET /runner/{runner}/message", roster.See, roster.MessageKind, (*visit).messagePage},
		{"POST /runner/{runner}/message", roster.Add, roster.MessageKind, (*visit).message},
		{"POST /runner/{runner}/objects", roster.Change, roster.MessageKind, (*visit).objects},
		{"GET /runner/{runner}/again.ics", roster.Export, roster.MessageKind, (*visit).againDay},
		{"GET /stop/{token}", roster.See, roster.MessageKind, (*visit).stopPage},
		{"POST /stop/{token}", roster.Change, roster.MessageKind, (*visit).stop},

		// The evening.
		{"GET /classes", roster.See, roster.ClassKind, (*visit).classes},
		{"POST /classes", roster.Add, roster.ClassKind, (*visit).addClass},
		{"GET /class/{class}", roster.See, roster.ClassKind, (*visit).classPage},
		{"GET /class/{class}/news", roster.See, roster.QueueKind, (*visit).classNews},
		{"GET /class/{class}/edit", roster.Change, roster.ClassKind, (*visit).editClassPage},
		{"POST /class/{class}/edit", roster.Change, roster.ClassKind, (*visit).changeClass},
		{"POST /class/{class}/runners", roster.Add, roster.RunnerKind, (*visit).addRunner},
		{"POST /class/{class}/runner/{runner}/here", roster.Change, roster.AttendanceKind, (*visit).attend},
		{"POST /class/{class}/door", roster.Add, roster.LinkKind, (*visit).openDoor},
		{"POST /class/{class}/door/end", roster.Delete, roster.LinkKind, (*visit).closeDoor},
		{"GET /class/{class}/board", roster.See, roster.ClassKind, (*visit).board},
		{"GET /class/{class}/board/news", roster.See, roster.QueueKind, (*visit).boardNews},
		{"GET /class/{class}/summary.pdf", roster.Export, roster.ClassKind, (*visit).summary},

		// All classes together, without a name.
		{"GET /clinic", roster.See, roster.ClinicKind, (*visit).clinic},
		{"GET /clinic/clinic.pdf", roster.Export, roster.ClinicKind, (*visit).clinicSheet},
		{"GET /clinic/clinic.csv", roster.Export, roster.ClinicKind, (*visit).clinicTable},

		// A clip.
		{"GET /class/{class}/runner/{runner}/film", roster.Add, roster.ClipKind, (*visit).filmPage},
		{"POST /class/{class}/runner/{runner}/film", roster.Add, roster.ClipKind, (*visit).film},
		{"GET /class/{class}/clips", roster.Add, roster.ClipKind, (*visit).clips},
		{"POST /class/{class}/runner/{runner}/uploads", roster.Add, roster.ClipKind, (*visit).beginUpload},
		{"GET /uploads/{upload}", roster.Add, roster.ClipKind, (*visit).uploadState},
		{"PATCH /uploads/{upload}", roster.Add, roster.ClipKind, (*visit).piece},

		// A check and its plan.
		{"GET /check/{check}", roster.See, roster.CheckKind, (*visit).checkPage},
		{"GET /check/{check}/news", roster.See, roster.CheckKind, (*visit).checkNews},
		{"GET /check/{check}/form-card.pdf", roster.Export, roster.CheckKind, (*visit).cardSheet},
		{"POST /check/{check}/word", roster.Confirm, roster.CheckKind, (*visit).decide},
		{"POST /check/{check}/again", roster.Change, roster.QueueKind, (*visit).measureAgain},
		{"GET /check/{check}/stride", roster.See, roster.CheckKind, (*visit).stridePage},
		{"POST /check/{check}/stride", roster.Change, roster.CheckKind, (*visit).correct},
		{"GET /check/{check}/stride/{picture}", roster.See, roster.PictureKind, (*visit).stridePicture},
		{"POST /check/{check}/plan", roster.Add, roster.PlanKind, (*visit).makePlan},
		{"GET /plan/{plan}", roster.See, roster.PlanKind, (*visit).planPage},
		{"GET /plan/{plan}/plan.pdf", roster.Export, roster.PlanKind, (*visit).planSheet},
		{"GET /plan/{plan}/plan.ics", roster.Export, roster.PlanKind, (*visit).planDays},

		// A runner.
		{"GET /people", roster.See, roster.RosterList, (*visit).people},
		{"GET /runner/{runner}", roster.See, roster.RunnerKind, (*visit).runnerPage},
		{"GET /runner/{runner}/compare", roster.See, roster.RunnerKind, (*visit).comparePage},
		{"GET /runner/{runner}/compare.pdf", roster.See, roster.RunnerKind, (*visit).compareSheet},
		{"GET /runner/{runner}/edit", roster.Change, roster.RunnerKind, (*visit).editRunnerPage},
		{"POST /runner/{runner}/edit", roster.Change, roster.RunnerKind, (*visit).changeRunner},
		{"GET /runner/{runner}/consent", roster.See, roster.ConsentKind, (*visit).consentPage},
		{"POST /runner/{runner}/consent", roster.Add, roster.ConsentKind, (*visit).consent},
		{"POST /runner/{runner}/withdraw", roster.Delete, roster.ConsentKind, (*visit).withdraw},
		{"POST /runner/{runner}/notes", roster.Add, roster.NoteKind, (*visit).addNote},
		{"POST /runner/{runner}/practice", roster.Add, roster.PracticeKind, (*visit).addPractice},
		{"POST /runner/{runner}/practice/{activity}/delete", roster.Delete, roster.PracticeKind, (*visit).removePractice},
		{"POST /runner/{runner}/links", roster.Add, roster.LinkKind, (*visit).handOver},
		{"POST /runner/{runner}/links/{link}/end", roster.Delete, roster.LinkKind, (*visit).endLink},
		{"GET /runner/{runner}/everything.json", roster.Export, roster.RunnerKind, (*visit).everything},
		{"POST /runner/{runner}/forget", roster.Delete, roster.RunnerKind, (*visit).forget},

		// The door: who scans its code puts themselves on the list.
		{"GET /door/{token}", roster.Add, roster.RunnerKind, (*visit).doorPage},
		{"POST /door/{token}", roster.Add, roster.RunnerKind, (*visit).signIntoClass},

		// A runner's private page.
		{"GET /my/{token}", roster.See, roster.RunnerKind, (*visit).runnerPage},
		{"POST /my/{token}/withdraw", roster.Delete, roster.ConsentKind, (*visit).withdraw},
		{"GET /my/{token}/compare", roster.See, roster.RunnerKind, (*visit).comparePage},
		{"GET /my/{token}/compare.pdf", roster.See, roster.RunnerKind, (*visit).compareSheet},
		{"POST /my/{token}/practice", roster.Add, roster.PracticeKind, (*visit).addPractice},
		{"POST /my/{token}/practice/{activity}/delete", roster.Delete, roster.PracticeKind, (*visit).removePractice},
		{"GET /my/{token}/check/{check}", roster.See, roster.CheckKind, (*visit).checkPage},
		{"GET /my/{token}/check/{check}/form-card.pdf", roster.Export, roster.CheckKind, (*visit).cardSheet},
		{"GET /my/{token}/check/{check}/stride", roster.See, roster.CheckKind, (*visit).stridePage},
		{"GET /my/{token}/check/{check}/stride/{picture}", roster.See, roster.PictureKind, (*visit).stridePicture},
		{"GET /my/{token}/plan/{plan}", roster.See, roster.PlanKind, (*visit).planPage},
		{"GET /my/{token}/plan/{plan}/plan.pdf", roster.Export, roster.PlanKind, (*visit).planSheet},
		{"GET /my/{token}/plan/{plan}/plan.ics", roster.Export, roster.PlanKind, (*visit).planDays},

		// An invitation for somebody who is not in the room.
		{"GET /invited/{token}", roster.See, roster.RunnerKind, (*visit).invitedPage},
		{"POST /invited/{token}/consent", roster.Add, roster.ConsentKind, (*visit).invitedConsent},
		{"POST /invited/{token}/withdraw", roster.Delete, roster.ConsentKind, (*visit).withdraw},
		{"POST /invited/{token}/film", roster.Add, roster.ClipKind, (*visit).film},
		{"POST /invited/{token}/uploads", roster.Add, roster.ClipKind, (*visit).beginUpload},
		{"GET /invited/{token}/uploads/{upload}", roster.Add, roster.ClipKind, (*visit).uploadState},
		{"PATCH /invited/{token}/uploads/{upload}", roster.Add, roster.ClipKind, (*visit).piece},
	}
}
