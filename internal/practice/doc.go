// Package practice takes the activity files of a runner's watch (FIT, GPX
// 1.1), and gives what they show of the practice: cadence at the runner's own
// speed with its interval, the minutes within a target's band, and week by
// week whether cadence has changed at equal speed and grade. Pure.
//
// Read it in this order: activity.go (what a file tells, without places),
// read.go, fit.go, gpx.go (files to activities), unit.go (strides or steps),
// run.go (what of it is running; the half minutes and counts that are kept),
// grade.go, cost.go (up and down), regress.go (cadence by speed and grade),
// trend.go, report.go.
package practice
