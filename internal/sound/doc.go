// Package sound takes samples, one channel of 16 bits, and gives a file of
// sound: WAV and FLAC from its own writers, MP3 and M4A through ffmpeg as a
// child process, each with its tags and its true length. Samples come a
// piece at a time, and no piece is kept.
package sound
