package roster

// Role is what somebody is here.
type Role string

// The roles. A person signed in is Coach or Helper; the others hold a link.
const (
	Coach Role = "coach"
	// Helper films and adds, and sees nothing of health or notes.
	Helper Role = "helper"
	// Own is the runner's private link: it reads its own page.
	Own Role = "own"
	// Invited is a link with which one runner consents and sends clips.
	Invited Role = "invited"
	// Door is the code at the door: people sign themselves in to one class.
	Door Role = "door"
	// Stop is a link with which one runner stops messages, and nothing else.
	Stop Role = "stop"
)

// Actor is somebody who wants something.
type Actor struct {
	Role Role
	// RunnerID is whose link it is, for Own and Invited.
	RunnerID string
	// ClassID is which door it is, for Door.
	ClassID string
}

// Action is what somebody wants to do.
type Action string

// The actions.
const (
	See     Action = "see"
	Add     Action = "add"
	Change  Action = "change"
	Delete  Action = "delete"
	Confirm Action = "confirm" // a check's priority, or overrule it
	Export  Action = "export"
)

// Actions lists all actions.
func Actions() []Action { return []Action{See, Add, Change, Delete, Confirm, Export} }

// Kind is what a resource is.
type Kind string

// The kinds of resources. RosterList is the list of all runners; OwnPage
// everything that a runner's page shows besides cards, plans and footage.
const (
	ClassKind      Kind = "class"
	AttendanceKind Kind = "attendance"
	RosterList     Kind = "roster"
	RunnerKind     Kind = "runner" // name, height, paces: what filming needs
	ContactKind    Kind = "contact"
	HealthKind     Kind = "health"
	ConsentKind    Kind = "consent"
	ClipKind       Kind = "clip"
	PictureKind    Kind = "picture"
	CheckKind      Kind = "check" // the card and its measures
	PlanKind       Kind = "plan"
	PracticeKind   Kind = "practice" // what a runner's watch recorded
	NoteKind       Kind = "note"
	MessageKind    Kind = "message" // what is written to a runner, and whether they want it
	LinkKind       Kind = "link"
	AccountKind    Kind = "account"
	AuditKind      Kind = "audit"
	QueueKind      Kind = "queue"
	SettingKind    Kind = "setting"
	// ClinicKind is what all classes together show, without a name.
	ClinicKind Kind = "clinic"
)

// Kinds lists all kinds.
func Kinds() []Kind {
	return []Kind{
		ClassKind, AttendanceKind, RosterList, RunnerKind, ContactKind, HealthKind, ConsentKind, ClipKind,
		PictureKind, CheckKind, PlanKind, PracticeKind, NoteKind, MessageKind, LinkKind, AccountKind, AuditKind, QueueKind, SettingKind, ClinicKind,
	}
}

// Resource is the thing that somebody wants.
type Resource struct {
	Kind Kind
	// RunnerID is whom it is about, and ClassID which class it belongs to;
	// empty where it is about nobody or nothing.
	RunnerID string
	ClassID  string
	// Released: a coach has confirmed or overruled the check's priority.
	// Cards and plans reach the runner only then.
	Released bool
	// Shown is what the runner's standing consent says about footage; the
	// zero value where none stands.
	Shown Audience
}

// condition is what a permission depends on.
type condition int

const (
	never condition = iota
	always
	own         // the link's own runner
	ownReleased // that, and a coach has looked at it
	ownShown    // that, and the consent shows footage to the runner
	helperShown // the consent shows footage to helpers
	thatClass   // the door's own class
)

// permissions says who may do what to what. What isn't here is never.
var permissions = map[Kind]map[Action]map[Role]condition{
	ClassKind: {
		See:    {Coach: always, Helper: always, Door: thatClass},
		Add:    {Coach: always},
		Change: {Coach: always},
		Delete: {Coach: always},
		Export: {Coach: always},
	},
	AttendanceKind: {
		See:    {Coach: always, Helper: always},
		Add:    {Coach: always, Helper: always, Door: thatClass},
		Change: {Coach: always, Helper: always},
		Delete: {Coach: always, Helper: always},
		Export: {Coach: always},
	},
	RosterList: {
		See:    {Coach: always, Helper: always},
		Add:    {Coach: always}, // import
		Export: {Coach: always},
	},
	RunnerKind: {
		See:    {Coach: always, Helper: always, Own: own, Invited: own},
		Add:    {Coach: always, Helper: always, Door: thatClass},
		Change: {Coach: always, Helper: always},
		Delete: {Coach: always},
		Export: {Coach: always},
	},
	ContactKind: {
		See:    {Coach: always, Own: own},
		Add:    {Coach: always, Helper: always, Door: thatClass, Invited: own},
		Change: {Coach: always},
		Export: {Coach: always},
	},
	HealthKind: {
		See:    {Coach: always},
		Add:    {Coach: always, Door: thatClass, Invited: own},
		Change: {Coach: always},
		Export: {Coach: always},
	},
	ConsentKind: {
		See:    {Coach: always, Helper: always, Own: own, Invited: own},
		Add:    {Coach: always, Helper: always, Door: thatClass, Invited: own},
		Delete: {Coach: always, Helper: always, Own: own, Invited: own}, // withdraw
		Export: {Coach: always},
	},
	ClipKind: {
		See:    {Coach: always, Helper: helperShown, Own: ownShown},
		Add:    {Coach: always, Helper: always, Invited: own},
		Delete: {Coach: always},
		Export: {Coach: always},
	},
	PictureKind: {
		See:    {Coach: always, Helper: helperShown, Own: ownShown},
		Add:    {Coach: always, Helper: always},
		Delete: {Coach: always},
		Export: {Coach: always},
	},
	CheckKind: {
		See:     {Coach: always, Helper: always, Own: ownReleased},
		Add:     {Coach: always, Helper: always, Invited: own},
		Change:  {Coach: always},
		Delete:  {Coach: always},
		Confirm: {Coach: always},
		Export:  {Coach: always, Own: ownReleased},
	},
	PlanKind: {
		See:    {Coach: always, Own: ownReleased},
		Add:    {Coach: always},
		Change: {Coach: always},
		Delete: {Coach: always},
		Export: {Coach: always, Own: ownReleased},
	},
	// A watch knows when somebody runs and how their body answers: it is the
	// runner's own and the coach's, as health is. Runners bring in and take out
	// their own.
	PracticeKind: {
		See:    {Coach: always, Own: own},
		Add:    {Coach: always, Own: own},
		Delete: {Coach: always, Own: own},
		Export: {Coach: always},
	},
	NoteKind: {
		See:    {Coach: always},
		Add:    {Coach: always},
		Change: {Coach: always},
		Delete: {Coach: always},
		Export: {Coach: always},
	},
	MessageKind: {
		See:    {Coach: always, Stop: own},
		Add:    {Coach: always},
		Change: {Coach: always, Stop: own},
		Export: {Coach: always},
	},
	LinkKind: {
		See:    {Coach: always},
		Add:    {Coach: always},
		Delete: {Coach: always},
	},
	AccountKind: {
		See:    {Coach: always},
		Add:    {Coach: always},
		Change: {Coach: always},
		Delete: {Coach: always},
	},
	AuditKind:   {See: {Coach: always}, Export: {Coach: always}},
	QueueKind:   {See: {Coach: always, Helper: always}, Change: {Coach: always}},
	SettingKind: {See: {Coach: always}, Change: {Coach: always}},
	ClinicKind:  {See: {Coach: always}, Export: {Coach: always}},
}

// May tells whether the actor may do that to the resource. Whatever the
// table does not allow is refused: an unknown role, kind or action too. A
// resource that is about nobody is nobody's own.
func May(actor Actor, action Action, on Resource) bool {
	mine := actor.RunnerID != "" && actor.RunnerID == on.RunnerID
	switch permissions[on.Kind][action][actor.Role] {
	case always:
		return true
	case own:
		return mine
	case ownReleased:
		return mine && on.Released
	case ownShown:
		return mine && on.Released && on.Shown.Runner
	case helperShown:
		return on.Shown.Helpers
	case thatClass:
		return actor.ClassID != "" && actor.ClassID == on.ClassID
	default:
		return false
	}
}
