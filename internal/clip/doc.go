// Package clip takes a video file from the command line or the media folder,
// gives frames with their true times to package pose, and exact single
// pictures to package check.
//
// The work is done by the system's ffprobe and ffmpeg as child processes:
// one ffprobe lists the packets (no decoding), one ffmpeg writes raw planar
// pictures to a pipe. A frame's time is the presentation time that its packet
// carries in the file; the decoder reports it beside each picture that it
// writes, and that is how a picture gets its index. The nominal frame rate is
// never used.
//
// A clip is somebody else's file, so the children run on a short lead: no
// shell, one demuxer chosen here from the file's first bytes, no protocol but
// file and pipe, a limit on picture size, memory and waiting time, a process
// group of their own that is killed when the context ends, and no temporary
// files.
package clip
