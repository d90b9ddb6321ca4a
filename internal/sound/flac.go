package sound

import (
	"context"
	"crypto/md5"
	"encoding/binary"
	"fmt"
	"hash"
	"io"
	"math/bits"
)

// The numbers of the format are those of RFC 9639.
const (
	// flacBlock is the samples in a frame: short enough that most of the
	// silence between two steps lies in frames of nothing else, which take
	// some twelve bytes each.
	flacBlock     = 1024
	flacBlockCode = 0b1010 // 256·2² samples
	flacVendor    = "plumbstride"

	maxPartitionOrder = 5
	maxRice           = 14
)

// writeFLAC writes a FLAC file: the stream's data, the tags, the frames. The
// checksum and the frames' sizes are put in at the end.
func writeFLAC(ctx context.Context, w io.WriteSeeker, t Track) error {
	e := newFLACEncoder()
	head := append([]byte("fLaC"), e.streamInfo(t)...)
	head = append(head, tagBlock(t)...)
	if _, err := w.Write(head); err != nil {
		return fmt.Errorf("write the FLAC file: %w", err)
	}
	err := pieces(ctx, t, flacBlock, func(pcm []int16) error {
		if _, err := w.Write(e.frame(pcm)); err != nil {
			return fmt.Errorf("write the FLAC file: %w", err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if _, err := w.Seek(4, io.SeekStart); err != nil {
		return fmt.Errorf("write the FLAC file's checksum: %w", err)
	}
	if _, err := w.Write(e.streamInfo(t)); err != nil {
		return fmt.Errorf("write the FLAC file's checksum: %w", err)
	}
	return nil
}

// tagBlock is the block of Vorbis comments, and the last before the frames.
// Of the standard's field names, DESCRIPTION is what others call comment.
func tagBlock(t Track) []byte {
	var fields []string
	if t.Title != "" {
		fields = append(fields, "TITLE="+t.Title)
	}
	if t.Comment != "" {
		fields = append(fields, "DESCRIPTION="+t.Comment)
	}
	field := func(b []byte, s string) []byte {
		return append(binary.LittleEndian.AppendUint32(b, uint32(len(s))), s...)
	}
	b := binary.LittleEndian.AppendUint32(field(nil, flacVendor), uint32(len(fields)))
	for _, f := range fields {
		b = field(b, f)
	}
	if len(b) >= 1<<24 {
		panic("sound: a FLAC file's tags are under 16 MiB")
	}
	return append(binary.BigEndian.AppendUint32(nil, 0x84<<24|uint32(len(b))), b...) // last block, type 4
}

// flacEncoder makes the frames of one stream.
type flacEncoder struct {
	crc8, crc16        *crc
	sum                hash.Hash
	number             uint32
	minFrame, maxFrame int
	out                bitWriter
	raw                []byte
	residual           [flacBlock]int32
	folded             [flacBlock]uint32
}

func newFLACEncoder() *flacEncoder {
	return &flacEncoder{crc8: newCRC(0x07, 8), crc16: newCRC(0x8005, 16), sum: md5.New()}
}

// streamInfo is the first block (section 8.2), with what is known so far.
func (e *flacEncoder) streamInfo(t Track) []byte {
	w := &bitWriter{}
	w.put(0, 8) // not the last block, type 0
	w.put(34, 24)
	w.put(flacBlock, 16)
	w.put(flacBlock, 16)
	w.put(uint32(e.minFrame), 24)
	w.put(uint32(e.maxFrame), 24)
	w.put(uint32(t.SampleRate), 20)
	w.put(0, 3)    // one channel
	w.put(16-1, 5) // bits
	w.put(uint32(t.Samples>>32), 4)
	w.put(uint32(t.Samples), 32)
	if e.number == 0 {
		return append(w.b, make([]byte, md5.Size)...) // not known
	}
	return e.sum.Sum(w.b)
}

// frame encodes up to flacBlock samples (section 9). The bytes are good
// until the next frame.
func (e *flacEncoder) frame(pcm []int16) []byte {
	e.raw = littleEndian(e.raw[:0], pcm)
	e.sum.Write(e.raw) // the samples, little-endian, as the checksum wants them
	w := &e.out
	*w = bitWriter{b: w.b[:0]}
	w.put(0xFFF8, 16) // sync; every block but the last has the same size
	if len(pcm) == flacBlock {
		w.put(flacBlockCode, 4)
	} else {
		w.put(0b0111, 4) // its size stands below, 16 bits
	}
	w.put(0, 4)     // the sample rate is the stream's
	w.put(0, 4)     // one channel
	w.put(0b100, 3) // 16 bits
	w.put(0, 1)
	w.b = append(w.b, coded(e.number)...)
	if len(pcm) != flacBlock {
		w.put(uint32(len(pcm)-1), 16)
	}
	w.put(uint32(e.crc8.of(w.b)), 8)
	e.subframe(w, pcm)
	w.align()
	w.put(uint32(e.crc16.of(w.b)), 16)
	if e.number++; e.number == 1 || len(w.b) < e.minFrame {
		e.minFrame = len(w.b)
	}
	e.maxFrame = max(e.maxFrame, len(w.b))
	return w.b
}

// coded is a frame's number in the manner of UTF-8 (section 9.1.5), up to 31
// bits.
func coded(n uint32) []byte {
	if n < 0x80 {
		return []byte{byte(n)}
	}
	var tail []byte
	lead := uint32(0x3F) // the largest number that still fits beside the lead bits
	for n > lead {
		tail = append([]byte{0x80 | byte(n&0x3F)}, tail...)
		n >>= 6
		lead >>= 1
	}
	return append([]byte{byte(^(2*lead + 1)) | byte(n)}, tail...)
}

// subframe writes the samples in the shortest of three ways: one value for
// all, a fixed predictor's residuals in Rice code, or as they are.
func (e *flacEncoder) subframe(w *bitWriter, pcm []int16) {
	same := true
	for _, v := range pcm[1:] {
		same = same && v == pcm[0]
	}
	if same {
		w.put(0, 8)
		w.put(uint32(uint16(pcm[0])), 16)
		return
	}
	order := e.predict(pcm)
	plan := e.partition(len(pcm), order)
	if plan.bits+16*order >= 16*len(pcm) {
		w.put(0b10, 8) // verbatim
		for _, v := range pcm {
			w.put(uint32(uint16(v)), 16)
		}
		return
	}
	w.put(uint32(0b001000|order)<<1, 8)
	for _, v := range pcm[:order] {
		w.put(uint32(uint16(v)), 16)
	}
	w.put(0, 2) // Rice parameters of 4 bits
	w.put(uint32(plan.order), 4)
	at := order
	for i, k := range plan.params[:1<<plan.order] {
		w.put(uint32(k), 4)
		for end := (i + 1) * (len(pcm) >> plan.order); at < end; at++ {
			w.rice(e.folded[at], k)
		}
	}
}

// predict chooses the fixed predictor, of order 0 to 4 (section 9.2.5), with
// the smallest sum of residuals, and leaves these, folded to positive
// numbers, in e.folded.
func (e *flacEncoder) predict(pcm []int16) (order int) {
	r := e.residual[:len(pcm)]
	for i, v := range pcm {
		r[i] = int32(v)
	}
	best := uint64(0)
	for o := 0; o <= min(4, len(pcm)-1); o++ {
		if o > 0 { // the residual of order o is the difference of that before
			for i := len(r) - 1; i >= o; i-- {
				r[i] -= r[i-1]
			}
		}
		sum := uint64(0)
		for _, v := range r[o:] {
			sum += uint64(max(v, -v))
		}
		if o > 0 && sum >= best {
			continue
		}
		best, order = sum, o
		for i, v := range r[o:] {
			e.folded[o+i] = uint32(v)<<1 ^ uint32(v>>31)
		}
	}
	return order
}

// partitioning is a way to cut a block's residuals into 2^order runs, each
// with a Rice parameter of its own, and what it costs.
type partitioning struct {
	order  int
	params [1 << maxPartitionOrder]uint // the first 2^order count
	bits   int
}

// partition chooses the partitioning that takes the fewest bits.
func (e *flacEncoder) partition(n, warm int) partitioning {
	var best partitioning
	for order := 0; order <= maxPartitionOrder; order++ {
		run := n >> order
		if run<<order != n || run <= warm {
			break
		}
		p := partitioning{order: order, bits: 8 + 6}
		for i := range 1 << order {
			k, cost := bestRice(e.folded[max(i*run, warm) : (i+1)*run])
			p.params[i] = k
			p.bits += 4 + cost
		}
		if order == 0 || p.bits < best.bits {
			best = p
		}
	}
	return best
}

// bestRice gives the parameter, of the three about the mean's logarithm, with
// which the numbers take the fewest bits, and how many they take.
func bestRice(v []uint32) (k uint, cost int) {
	sum := uint64(0)
	for _, x := range v {
		sum += uint64(x)
	}
	guess := bits.Len64(sum / uint64(len(v))) // one above the logarithm, rounded down
	for c := max(guess-2, 0); c <= min(guess, maxRice); c++ {
		total := len(v) * (c + 1)
		for _, x := range v {
			total += int(x >> c)
		}
		if cost == 0 || total < cost {
			k, cost = uint(c), total
		}
	}
	return k, cost
}
