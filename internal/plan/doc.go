// Package plan takes the priority and the measured cadence of one check from
// package card, with what the coach asked the runner, and gives a plan of
// four to eight weeks for that one area to those who show it: runs, minutes,
// steps of cadence, one cue at a time, drills, and a day to check again. It
// also gives the catalogue of drills and what a change of cadence is known
// to do. Nothing here promises that anybody stays free of injury.
package plan
