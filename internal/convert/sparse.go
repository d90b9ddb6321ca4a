package convert

import (
	"fmt"
)

// sparsity says how a sparse constant is stored (TFLite schema,
// SparsityParameters): the dimensions are walked in order, block dimensions
// last; a dense one by counting, a sparse one by segments of indices.
type sparsity struct {
	order  []int // dimension numbers; those ≥ rank are inside a block
	blocks []int // for each block dimension, the dimension it divides
	levels []level
}

type level struct {
	compressed bool
	size       int   // of a dense level
	segments   []int // of a compressed level
	indices    []int
}

func readSparsity(t table) *sparsity {
	s := &sparsity{order: t.ints(0, 2*maxRank), blocks: t.ints(1, maxRank)}
	for _, d := range t.tables(2, 2*maxRank) {
		l := level{compressed: d.u8(0, 0) == 1, size: int(d.i32(1, 0))}
		if l.compressed {
			l.segments, l.indices = readIndex(d, 2), readIndex(d, 4)
		}
		s.levels = append(s.levels, l)
	}
	return s
}

// readIndex reads a list of indices, stored in 32, 16 or 8 bits.
func readIndex(d table, field int) []int {
	width := map[uint8]int{1: 4, 2: 2, 3: 1}[d.u8(field, 0)]
	if width == 0 {
		d.f.fail("an index of kind %d", d.u8(field, 0))
		return nil
	}
	pos, n := d.sub(field+1).vector(0, width)
	if n > maxList {
		d.f.fail("an index of %d entries", n)
		return nil
	}
	out := make([]int, n)
	for i := range out {
		switch width {
		case 4:
			out[i] = int(d.f.i32(pos + 4*i))
		case 2:
			out[i] = int(d.f.u16(pos + 2*i))
		default:
			out[i] = int(d.f.u8(pos + i))
		}
	}
	return out
}

// densify lays stored values out in the full shape, zeros between them.
func (s *sparsity) densify(stored []float32, shape []int) ([]float32, error) {
	w, err := s.walker(stored, shape)
	if err != nil {
		return nil, err
	}
	if err := w.walk(0, 0); err != nil {
		return nil, err
	}
	if w.used != len(stored) {
		return nil, fmt.Errorf("%w: %d of %d stored values have a place", errCorrupt, w.used, len(stored))
	}
	return w.out, nil
}

// walker goes through the stored values in order.
type walker struct {
	s      *sparsity
	stored []float32
	used   int
	out    []float32
	shape  []int
	block  []int // size of the block along each dimension, 1 if none
	at     []int // index now at each level
}

func (s *sparsity) walker(stored []float32, shape []int) (*walker, error) {
	n, err := elements(shape)
	if err != nil {
		return nil, err
	}
	rank := len(shape)
	if len(s.order) != len(s.levels) || len(s.order) != rank+len(s.blocks) {
		return nil, fmt.Errorf("%w: %d levels for %d dimensions and %d blocks",
			errCorrupt, len(s.levels), rank, len(s.blocks))
	}
	w := &walker{s: s, stored: stored, shape: shape, block: make([]int, rank), at: make([]int, len(s.levels))}
	for i := range w.block {
		w.block[i] = 1
	}
	seen := make([]bool, len(s.order))
	for l, d := range s.order {
		if d < 0 || d >= len(seen) || seen[d] || (d >= rank) != (l >= rank) {
			return nil, fmt.Errorf("%w: dimensions are walked as %v", errCorrupt, s.order)
		}
		seen[d] = true
		if d < rank {
			continue
		}
		of, size := s.blocks[d-rank], s.levels[l].size
		if of < 0 || of >= rank || size < 1 || shape[of]%size != 0 || s.levels[l].compressed || w.block[of] != 1 {
			return nil, fmt.Errorf("%w: block %d of size %d", errCorrupt, d-rank, size)
		}
		w.block[of] = size
	}
	w.out = make([]float32, n)
	return w, nil
}

// walk visits level l; before is the position reached among the entries of
// the levels outside it.
func (w *walker) walk(l, before int) error {
	if l == len(w.s.levels) {
		return w.place()
	}
	lv := w.s.levels[l]
	if !lv.compressed {
		if lv.size < 1 || lv.size > maxElements {
			return fmt.Errorf("%w: level %d has size %d", errCorrupt, l, lv.size)
		}
		for i := range lv.size {
			w.at[l] = i
			if err := w.walk(l+1, before*lv.size+i); err != nil {
				return err
			}
		}
		return nil
	}
	if before < 0 || before+1 >= len(lv.segments) {
		return fmt.Errorf("%w: level %d has no segment %d", errCorrupt, l, before)
	}
	from, to := lv.segments[before], lv.segments[before+1]
	if from < 0 || to < from || to > len(lv.indices) {
		return fmt.Errorf("%w: level %d has the segment %d to %d", errCorrupt, l, from, to)
	}
	for k := from; k < to; k++ {
		w.at[l] = lv.indices[k]
		if err := w.walk(l+1, k); err != nil {
			return err
		}
	}
	return nil
}

// place puts the next stored value where the levels now point.
func (w *walker) place() error {
	rank := len(w.shape)
	var index [maxRank]int
	for l, d := range w.s.order {
		if d < rank {
			index[d] += w.at[l] * w.block[d]
		} else {
			index[w.s.blocks[d-rank]] += w.at[l]
		}
	}
	flat := 0
	for d, size := range w.shape {
		if index[d] < 0 || index[d] >= size {
			return fmt.Errorf("%w: a stored value lies at %v of %v", errCorrupt, index[:rank], w.shape)
		}
		flat = flat*size + index[d]
	}
	if w.used >= len(w.stored) {
		return fmt.Errorf("%w: %d stored values are too few", errCorrupt, len(w.stored))
	}
	w.out[flat] = w.stored[w.used]
	w.used++
	return nil
}
