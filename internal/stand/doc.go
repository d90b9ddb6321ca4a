// Package stand takes the key points of somebody who stands still from
// package track and the camera's level from check, and gives the standing
// pose in metres – view, scale, level, every joint's mean place with its
// noise – to package measure. Pure.
//
// In reading order: quiet.go (when nothing moves), view.go (from which side
// it is seen), stand.go (the pose).
package stand
