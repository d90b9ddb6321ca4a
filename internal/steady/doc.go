// Package steady takes the brightness of a clip's frames from package clip, as
// they come, and where the runner is in each, and gives how the camera turned
// while it filmed: one rotation a frame, and the lens's focal length as far as
// it can be told. With these a track of body points is laid into one steady
// picture, as a still camera with a very wide view would have seen it.
//
// The way there: each frame is made smaller (picture.go); corners of the
// background are found (corner.go) and followed from frame to frame to a
// fraction of a pixel (follow.go); what lies on the runner is left out, and the
// rest must agree on one turn of the camera (solve.go, rotation.go). A camera
// that only turns sees everything move alike however far away it is; a hand
// also shifts by centimetres, which is left in the points.
package steady
