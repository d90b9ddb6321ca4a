package cli

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"plumbstride/internal/practice/practicetest"
	"plumbstride/internal/standin"
)

// watch runs "watch FOLDER rise|pace": six weeks of an invented runner's
// files, the first as GPX, whose cadence rises by 8 steps a minute at equal
// speed, or whose pace rises along their own line; and a ride.
func watch(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: watch FOLDER rise|pace")
	}
	c := standin.NewCourse(time.Date(2026, 3, 2, 6, 30, 0, 0, time.UTC))
	c.Runs, c.EveryDays, c.Minutes, c.HillM, c.DaySD = 12, 3.5, 20, 4, 0.5
	if args[1] == "rise" {
		c.Rise = 8
	} else {
		c.SpeedMPS = [2]float64{2.5, 3.4}
	}
	dir := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(dir, 0o755))
	for i, a := range c.Activities(rand.New(rand.NewPCG(8, 8))) {
		data, err := practicetest.FIT(a)
		ts.Check(err)
		name := a.Start.Format("2006-01-02") + ".fit"
		if i == 0 {
			ts.Check(os.WriteFile(filepath.Join(dir, "first.gpx"), practicetest.GPX(a), 0o644))
		}
		ts.Check(os.WriteFile(filepath.Join(dir, name), data, 0o644))
	}
	ride := c.Activities(rand.New(rand.NewPCG(8, 8)))[0]
	ride.Sport = "cycling"
	data, err := practicetest.FIT(ride)
	ts.Check(err)
	ts.Check(os.WriteFile(filepath.Join(dir, "ride.fit"), data, 0o644))
}
