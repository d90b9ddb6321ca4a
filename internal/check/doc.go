// Package check is the line itself: it takes a coach's clip, or a track of
// key points, and the facts that were stated, calls the stages in order –
// clip, pose, track, gait, measure, judge – and gives one card.
package check
