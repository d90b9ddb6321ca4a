package clip

import (
	"bytes"
	"encoding/binary"
)

// exifTurn reads how a JPEG picture is to be turned from the orientation tag
// (0x0112) in its Exif segment (CIPA DC-008, Exif 2.32, 4.6.4 and 4.7.2).
// head is the beginning of the file; no turn is given where it does not say.
func exifTurn(head []byte) turn {
	orientation := orientationTag(exifSegment(head))
	turns := [...]turn{2: {0, true}, 3: {180, false}, 4: {180, true}, 5: {270, true}, 6: {90, false}, 7: {90, true}, 8: {270, false}}
	if orientation >= len(turns) {
		return turn{}
	}
	return turns[orientation]
}

// exifSegment finds the TIFF structure within the segments before the picture.
func exifSegment(head []byte) []byte {
	at := 2
	for at+4 <= len(head) && head[at] == 0xFF && head[at+1] != 0xDA {
		size := int(binary.BigEndian.Uint16(head[at+2:]))
		if size < 2 || at+2+size > len(head) {
			return nil
		}
		body := head[at+4 : at+2+size]
		if tiff, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00")); ok && head[at+1] == 0xE1 {
			return tiff
		}
		at += 2 + size
	}
	return nil
}

// orientationTag reads the tag from the first directory of a TIFF structure;
// 0 where it is absent.
func orientationTag(tiff []byte) int {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(tiff, []byte("II*\x00")):
		order = binary.LittleEndian
	case bytes.HasPrefix(tiff, []byte("MM\x00*")):
		order = binary.BigEndian
	default:
		return 0
	}
	if len(tiff) < 8 {
		return 0
	}
	at := uint64(order.Uint32(tiff[4:]))
	if at+2 > uint64(len(tiff)) {
		return 0
	}
	entries := tiff[at+2:]
	for range order.Uint16(tiff[at:]) {
		if len(entries) < 12 {
			return 0
		}
		const short = 3
		if order.Uint16(entries) == 0x0112 && order.Uint16(entries[2:]) == short {
			return int(order.Uint16(entries[8:]))
		}
		entries = entries[12:]
	}
	return 0
}
