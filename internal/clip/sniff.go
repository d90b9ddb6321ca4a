package clip

import "bytes"

// container is a kind of file that is read, found by its first bytes. The
// demuxer is then named to ffmpeg, which so never chooses one by itself:
// play lists, image sequences and scripts are not read whatever they hold.
type container struct {
	name    string // as shown to people
	demuxer string
	still   bool // a picture file
	turn    turn // how a picture file says to show it
}

// sniff tells what kind of file begins with head, its first headBytes.
func sniff(head []byte) (container, bool) {
	has := func(at int, s string) bool {
		return len(head) >= at+len(s) && string(head[at:at+len(s)]) == s
	}
	switch {
	case has(4, "ftypqt  "):
		return container{name: "mov", demuxer: "mov"}, true
	case has(4, "ftyphei"), has(4, "ftypmif1"), has(4, "ftypmsf1"), has(4, "ftypavif"):
		return container{name: "heif"}, false
	case has(4, "ftyp"), has(4, "moov"), has(4, "mdat"), has(4, "wide"), has(4, "free"), has(4, "skip"), has(4, "moof"), has(4, "styp"), has(4, "pnot"):
		return container{name: "mp4", demuxer: "mov"}, true
	case has(0, "\x1A\x45\xDF\xA3"):
		if bytes.Contains(head[:min(64, len(head))], []byte("webm")) {
			return container{name: "webm", demuxer: "matroska"}, true
		}
		return container{name: "mkv", demuxer: "matroska"}, true
	case has(0, "RIFF") && has(8, "AVI"), has(0, "RIFF") && has(8, "AVIX"):
		return container{name: "avi", demuxer: "avi"}, true
	case has(0, "RIFF") && has(8, "WEBP"):
		return container{name: "webp", demuxer: "webp_pipe", still: true}, true
	case has(0, "\xFF\xD8\xFF"):
		return container{name: "jpeg", demuxer: "jpeg_pipe", still: true, turn: exifTurn(head)}, true
	case has(0, "\x89PNG\r\n\x1A\n"):
		return container{name: "png", demuxer: "png_pipe", still: true}, true
	case isTransportStream(head, 0, 188):
		return container{name: "mpeg-ts", demuxer: "mpegts"}, true
	case isTransportStream(head, 4, 192):
		return container{name: "mpeg-ts", demuxer: "mpegts"}, true
	}
	return container{}, false
}

// isTransportStream looks for the sync byte of five packets in a row.
func isTransportStream(head []byte, at, size int) bool {
	for i := range 5 {
		if p := at + i*size; p >= len(head) || head[p] != 0x47 {
			return false
		}
	}
	return true
}
