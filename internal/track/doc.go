// Package track takes one person's key points from package pose, or from a
// CSV file made anywhere, and gives one runner over time: points checked for
// outliers, with the noise of each joint estimated from the track itself.
package track
