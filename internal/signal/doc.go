// Package signal takes series of numbers from the stages and gives them
// smooth, differentiated, and with their period: one smoother, one period
// finder, and the robust statistics that both need.
package signal
