// Package gait takes one runner's motion from package track and gives what a
// measure needs: the sagittal plane in metres (facing, roll, yaw, scale,
// treadmill or ground, speed), each foot's initial contacts and toe-offs
// with sub-frame times, and the mean stride of each side.
package gait
