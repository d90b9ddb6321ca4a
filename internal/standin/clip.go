package standin

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"

	"plumbstride/internal/form"
)

// WriteClip renders the runner and writes the clip to path: H.264 in an MP4
// file, yuv420p, constant rate. The encoder is the ffmpeg program at
// ffmpegPath, run as a child without a shell; it is fed through a pipe and
// ends when this program ends. The file appears whole or not at all. progress
// may be nil; it is told how many frames of how many are done.
//
// A clip of constant rate can't show an uneven clock: the camera must have no
// TimeJitterS and no DropFrames.
func WriteClip(ctx context.Context, ffmpegPath, path string, r Runner, cam Camera, scene Scene, seconds float64, rng *rand.Rand, progress func(done, all int)) (Truth, error) {
	if cam.TimeJitterS != 0 || cam.DropFrames != 0 {
		return Truth{}, errors.New("invented camera: a clip of constant rate can't have jittered or missing frames")
	}
	if cam.Width%2 != 0 || cam.Height%2 != 0 {
		return Truth{}, fmt.Errorf("invented camera: a picture of %d×%d can't be encoded, both must be even", cam.Width, cam.Height)
	}
	m, err := NewMotion(r, seconds, rng)
	if err != nil {
		return Truth{}, err
	}
	temporary, err := os.CreateTemp(filepath.Dir(path), ".invented-*.mp4")
	if err != nil {
		return Truth{}, fmt.Errorf("the clip can't be written: %w", err)
	}
	defer os.Remove(temporary.Name()) // gone already where all went well
	if err := temporary.Close(); err != nil {
		return Truth{}, fmt.Errorf("the clip can't be written: %w", err)
	}
	if err := m.encode(ctx, ffmpegPath, temporary.Name(), cam, scene, rng, progress); err != nil {
		return Truth{}, err
	}
	if err := os.Chmod(temporary.Name(), 0o644); err != nil {
		return Truth{}, fmt.Errorf("the clip can't be written: %w", err)
	}
	if err := os.Rename(temporary.Name(), path); err != nil {
		return Truth{}, fmt.Errorf("the clip can't be written: %w", err)
	}
	return m.Truth(cam.Near()), nil
}

// encode feeds the frames to the encoder.
func (m *Motion) encode(ctx context.Context, ffmpegPath, path string, cam Camera, scene Scene, rng *rand.Rand, progress func(done, all int)) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	full, err := filepath.Abs(path)
	if err != nil {
		return fmt.Errorf("the clip can't be written: %w", err)
	}
	cmd := exec.CommandContext(ctx, ffmpegPath, "-hide_banner", "-loglevel", "error", "-protocol_whitelist", "file,pipe",
		"-f", "rawvideo", "-pix_fmt", "rgba", "-s", fmt.Sprintf("%dx%d", cam.Width, cam.Height),
		"-r", strconv.FormatFloat(cam.RateHz, 'f', -1, 64), "-i", "pipe:0",
		"-an", "-c:v", "libx264", "-preset", "veryfast", "-crf", "18", "-pix_fmt", "yuv420p",
		"-movflags", "+faststart", "-f", "mp4", "-y", "file:"+full)
	var said bytes.Buffer
	cmd.Stderr = &limited{w: &said, left: 4096}
	pipe, err := cmd.StdinPipe()
	if err != nil {
		return fmt.Errorf("the encoder can't be fed: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return form.MissingError("ffmpeg can't be started; install it or say where it is: %w", err)
	}
	all, done := len(cam.Stamps(m.seconds, nil)), 0
	drawn := m.Render(ctx, cam, scene, rng, func(_ Stamp, img *image.RGBA) error {
		if _, err := pipe.Write(img.Pix); err != nil {
			return fmt.Errorf("the encoder stopped: %w", err)
		}
		if done++; progress != nil {
			progress(done, all)
		}
		return nil
	})
	closed := pipe.Close()
	if drawn != nil {
		cancel()
	}
	ended := cmd.Wait()
	switch {
	case drawn != nil && said.Len() > 0:
		return fmt.Errorf("%w (ffmpeg: %s)", drawn, bytes.TrimSpace(said.Bytes()))
	case drawn != nil:
		return drawn
	case ended != nil:
		return fmt.Errorf("the encoder failed: %w (ffmpeg: %s)", ended, bytes.TrimSpace(said.Bytes()))
	case closed != nil:
		return fmt.Errorf("the encoder can't be fed: %w", closed)
	}
	return nil
}

// limited keeps the first bytes and drops the rest.
type limited struct {
	w    io.Writer
	left int
}

func (l *limited) Write(p []byte) (int, error) {
	n := min(len(p), l.left)
	l.left -= n
	if _, err := l.w.Write(p[:n]); err != nil {
		return 0, err
	}
	return len(p), nil
}
