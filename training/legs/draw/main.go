// Command draw writes lessons for the leg network: pictures of invented
// runners' legs with where their joints are, in shards that train.py reads.
//
//	go run ./training/legs/draw -out DIR -lessons 250000
//
// A shard NNNN.pix holds the pictures (size × size × 3 bytes each), NNNN.at
// the points: for each picture 2 legs (near, far) × 6 points (hip, knee,
// ankle, heel, ball, toe) × (x, y) and the scale in pixels per metre, 25
// float32 in all, little-endian. A shard appears under its name only when it
// is whole.
package main

import (
	"bufio"
	"encoding/binary"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"

	"plumbstride/internal/standin"
)

func main() {
	out := flag.String("out", "", "folder for the shards")
	lessons := flag.Int("lessons", 250_000, "how many lessons")
	size := flag.Int("size", 224, "pixels along each side")
	shard := flag.Int("shard", 1000, "lessons a shard")
	seed := flag.Uint64("seed", 1, "draws the lessons")
	workers := flag.Int("workers", runtime.NumCPU(), "drawn side by side")
	flag.Parse()
	if *out == "" {
		fmt.Fprintln(os.Stderr, "draw: say where with -out DIR")
		os.Exit(2)
	}
	if err := drawAll(*out, *lessons, *size, *shard, *seed, *workers); err != nil {
		fmt.Fprintln(os.Stderr, "draw:", err)
		os.Exit(1)
	}
}

func drawAll(out string, lessons, size, shard int, seed uint64, workers int) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	errs := make([]error, workers)
	for w := range workers {
		wait.Go(func() {
			for {
				k := int(next.Add(1)) - 1
				if k*shard >= lessons || errs[w] != nil {
					return
				}
				teacher := standin.NewTeacher(size, rand.New(rand.NewPCG(seed, uint64(k))))
				errs[w] = write(filepath.Join(out, fmt.Sprintf("%04d", k)), teacher, shard)
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// write draws one shard.
func write(base string, teacher *standin.Teacher, n int) error {
	pix, err := os.Create(base + ".pix.part")
	if err != nil {
		return err
	}
	defer pix.Close()
	at, err := os.Create(base + ".at.part")
	if err != nil {
		return err
	}
	defer at.Close()
	pw, aw := bufio.NewWriterSize(pix, 1<<20), bufio.NewWriterSize(at, 1<<16)
	for range n {
		l := teacher.Next()
		if _, err := pw.Write(l.Pix); err != nil {
			return err
		}
		if err := binary.Write(aw, binary.LittleEndian, l.At); err != nil {
			return err
		}
		if err := binary.Write(aw, binary.LittleEndian, l.PxPerM); err != nil {
			return err
		}
	}
	for _, w := range []*bufio.Writer{aw, pw} {
		if err := w.Flush(); err != nil {
			return err
		}
	}
	if err := os.Rename(base+".at.part", base+".at"); err != nil {
		return err
	}
	return os.Rename(base+".pix.part", base+".pix")
}
