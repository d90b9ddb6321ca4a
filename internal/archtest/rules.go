package archtest

// layer is how far a package stands from the outside world.
type layer int

// The layers. A package imports its own layer only where its rule says so.
const (
	words layer = iota // shared words and mathematics: pure
	stage              // a stage of the line from clip to card
	glue               // the line itself
	leaf               // the outside world; no leaf imports another, unless that one is pure or in the same folder
	front              // what people meet, and what works for them: alone these import leaves
)

// rule is what one package may import of the module, besides words; pure
// packages have no files, network, clock, logging or global randomness.
type rule struct {
	pure  bool
	layer layer
	// may lists the packages of the module that may be imported; a package
	// missing here is refused.
	may []string
}

// house is every package of the module. A new package needs a line here.
var house = map[string]rule{
	"form":      {pure: true, layer: words},
	"quantity":  {pure: true, layer: words, may: []string{"form"}},
	"words":     {pure: true, layer: words, may: []string{"form"}},
	"settings":  {pure: true, layer: words, may: []string{"form", "quantity", "words"}},
	"geom":      {pure: true, layer: words},
	"signal":    {pure: true, layer: words},
	"interrupt": {pure: true, layer: words},
	"stick":     {pure: true, layer: words},
	"body":      {pure: true, layer: words, may: []string{"form", "geom", "signal"}},

	// The line, in reading order: a stage imports only earlier stages.
	"clip":    {layer: stage, may: []string{"form"}},
	"scene":   {pure: true, layer: stage, may: []string{"form", "geom", "signal"}},
	"steady":  {pure: true, layer: stage, may: []string{"form", "geom", "signal"}},
	"pose":    {layer: stage, may: []string{"form", "geom", "signal", "clip"}},
	"track":   {pure: true, layer: stage, may: []string{"form", "geom", "signal"}},
	"amend":   {pure: true, layer: stage, may: []string{"form"}},
	"gait":    {pure: true, layer: stage, may: []string{"form", "geom", "signal", "body", "track"}},
	"stand":   {pure: true, layer: stage, may: []string{"form", "geom", "signal", "body", "track", "gait"}},
	"measure": {pure: true, layer: stage, may: []string{"form", "geom", "signal", "body", "track", "gait", "stand"}},
	"judge":   {pure: true, layer: stage, may: []string{"form", "geom", "signal", "body", "track", "gait", "stand", "measure"}},
	"card":    {pure: true, layer: stage, may: []string{"form", "quantity", "words", "geom", "signal", "body", "track", "gait", "stand", "measure", "judge"}},
	"recheck": {pure: true, layer: stage, may: []string{"form", "quantity", "words", "signal", "measure", "judge", "card"}},
	"beside":  {pure: true, layer: stage, may: []string{"form", "geom", "card"}},
	"clinic":  {pure: true, layer: stage, may: []string{"form", "quantity", "words", "signal", "judge", "card", "recheck"}},
	"explain": {pure: true, layer: stage, may: []string{"form", "quantity", "words", "signal", "accelerometry", "measure", "judge", "card"}},
	"plan":    {pure: true, layer: stage, may: []string{"form", "quantity", "stick", "judge", "card"}},
	// People and time.
	"roster":   {pure: true, layer: stage, may: []string{"form", "quantity", "plan"}},
	"practice": {pure: true, layer: stage, may: []string{"form", "signal", "judge"}},
	"handout":  {pure: true, layer: stage, may: []string{"form", "quantity", "stick", "judge", "plan"}},
	// A recording of a body-worn sensor enters beside the line.
	"accelerometry": {pure: true, layer: stage, may: []string{"form", "signal"}},
	"check":         {layer: glue, may: []string{"accelerometry", "form", "quantity", "geom", "signal", "body", "clip", "scene", "steady", "pose", "track", "gait", "stand", "measure", "judge", "card", "amend"}},

	// The outside world.
	"convert":     {pure: true, layer: leaf, may: []string{"form"}},
	"infer":       {layer: leaf, may: []string{"form"}},
	"legs":        {layer: leaf},
	"supply":      {layer: leaf, may: []string{"form", "convert"}},
	"chart":       {pure: true, layer: leaf, may: []string{"form", "quantity", "words", "stick", "card", "recheck", "plan"}},
	"paper":       {layer: leaf, may: []string{"form", "quantity", "words", "stick", "judge", "measure", "beside", "card", "recheck", "clinic", "plan", "handout", "settings", "chart", "paper/fonts"}},
	"calendar":    {pure: true, layer: leaf, may: []string{"quantity", "words", "plan"}},
	"plan/drills": {layer: leaf},
	"paper/fonts": {layer: leaf, may: []string{"chart"}},
	"standin":     {layer: leaf, may: []string{"form", "geom", "signal", "body", "practice"}},
	// What is kept. Below store, its parts know each other.
	"store":           {pure: true, layer: leaf, may: []string{"form", "card", "roster"}},
	"followup":        {layer: leaf, may: []string{"plan", "roster", "store", "words"}},
	"post":            {layer: leaf, may: []string{"form", "settings"}},
	"export":          {pure: true, layer: leaf, may: []string{"roster", "store"}},
	"media":           {layer: leaf, may: []string{"form", "interrupt", "roster", "store"}},
	"work":            {layer: leaf, may: []string{"form", "store"}},
	"backup":          {layer: leaf, may: []string{"form", "interrupt"}},
	"account":         {layer: leaf, may: []string{"form", "roster", "store"}},
	"certificate":     {layer: leaf, may: []string{"form"}},
	"home":            {layer: leaf, may: []string{"form"}},
	"store/migration": {layer: leaf},
	"store/tables":    {layer: leaf, may: []string{"form", "card", "plan", "roster", "store"}},
	"store/aside":     {layer: leaf, may: []string{"store"}},
	"store/sqlite":    {layer: leaf, may: []string{"form", "store", "store/migration", "store/tables"}},
	"store/storetest": {layer: leaf, may: []string{"form", "card", "plan", "roster", "store"}},
	"tempo":           {pure: true, layer: leaf, may: []string{"form", "quantity", "words"}},
	"sound":           {layer: leaf, may: []string{"form"}},
	// Invented cards for the tests of those that show them.
	"testkit":               {layer: leaf, may: []string{"form", "geom"}},
	"graph":                 {pure: true, layer: leaf},
	"practice/practicetest": {layer: leaf, may: []string{"practice"}},
	"card/cardtest":         {pure: true, layer: leaf, may: []string{"form", "card"}},

	"evening":  {layer: front, may: []string{"form", "words", "amend", "beside", "body", "track", "card", "clinic", "check", "plan", "practice", "roster", "store", "media", "work", "followup"}},
	"outbox":   {layer: front, may: []string{"post", "store", "work"}},
	"web":      {layer: front, may: []string{"form", "amend", "quantity", "words", "settings", "beside", "card", "recheck", "clinic", "plan", "practice", "roster", "store", "media", "work", "account", "evening", "chart", "paper", "paper/fonts", "calendar", "tempo", "followup", "post", "outbox"}},
	"cli":      {layer: front, may: []string{"*"}},
	"archtest": {layer: front},
}

// impureImports are the standard library's doors to the outside, closed to
// pure packages. What embed holds is fixed when the program is built.
var impureImports = []string{
	"os", "net", "log", "database", "syscall", "plugin", "testing", "flag", "runtime",
}

// impureCalls are the names of packages that are otherwise harmless: the
// clock and the global source of random numbers.
var impureCalls = map[string][]string{
	"time":          {"Now", "Since", "Until", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer", "Sleep", "Local", "LoadLocation"},
	"math/rand":     {"Seed", "Int", "Intn", "Int31", "Int31n", "Int63", "Int63n", "Uint32", "Uint64", "Float32", "Float64", "NormFloat64", "ExpFloat64", "Perm", "Shuffle", "Read"},
	"math/rand/v2":  {"Int", "IntN", "Int32", "Int32N", "Int64", "Int64N", "Uint", "UintN", "Uint32", "Uint32N", "Uint64", "Uint64N", "N", "Float32", "Float64", "NormFloat64", "ExpFloat64", "Perm", "Shuffle"},
	"fmt":           {"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"},
	"path/filepath": {"Walk", "WalkDir", "Glob", "Abs", "EvalSymlinks"},
}

// maxFunctionLines is the length a function may have outside tests, from
// func to the closing brace; a table (one statement) may be longer.
const maxFunctionLines = 60
