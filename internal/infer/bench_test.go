package infer_test

import (
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/infer"
	"plumbstride/internal/supply"
)

// input is a picture of a drawn runner, as the network wants it.
func input(network string) (picture []float32, size int) {
	size = 256
	if network == "detector" {
		size = 224
	}
	picture = drawnRunner(size, 0.3, 0.85, 0)
	if network == "detector" {
		for i := range picture {
			picture[i] = 2*picture[i] - 1
		}
	}
	return picture, size
}

// BenchmarkNetwork runs each network with one thread a session: one session,
// and two side by side that share the loaded network.
func BenchmarkNetwork(b *testing.B) {
	lib, networks := library(b), packed(b, supply.Networks())
	for _, name := range []string{"lite", "full", "heavy", "detector"} {
		picture, _ := input(name)
		first := open(b, lib, networks, name)
		for _, sessions := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/sessions=%d", name, sessions), func(b *testing.B) {
				list := []*infer.Session{first}
				for len(list) < sessions {
					s, err := first.Share()
					if err != nil {
						b.Fatal(err)
					}
					defer s.Close()
					list = append(list, s)
				}
				b.ReportAllocs()
				b.ReportMetric(inferences(b, list, picture, b.N), "inferences/s")
			})
		}
	}
}

// inferences shares n runs out among the sessions and gives runs per second.
func inferences(b *testing.B, sessions []*infer.Session, picture []float32, n int) float64 {
	for _, s := range sessions { // the first run sets memory up
		if _, err := s.Run(picture); err != nil {
			b.Fatal(err)
		}
	}
	next := make(chan struct{}, n)
	for range n {
		next <- struct{}{}
	}
	close(next)
	var all sync.WaitGroup
	b.ResetTimer()
	start := time.Now()
	for _, s := range sessions {
		all.Go(func() {
			for range next {
				if _, err := s.Run(picture); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	return float64(n) / time.Since(start).Seconds()
}

// BenchmarkParity gives the speed of each landmark network here and in
// @litertjs/core in Chromium, in one run: one thread against one thread, and
// all processors against all processors (sessions here, threads there). The
// two take turns, so that what else the machine does slows both.
func BenchmarkParity(b *testing.B) {
	lib, networks := library(b), packed(b, supply.Networks())
	for _, threads := range []int{1, runtime.NumCPU()} {
		ref := openReference(b, threads)
		for _, name := range []string{"lite", "full", "heavy"} {
			picture, size := input(name)
			ref.pictures["now"] = picture
			list := []*infer.Session{open(b, lib, networks, name)}
			for len(list) < threads {
				s, err := list[0].Share()
				if err != nil {
					b.Fatal(err)
				}
				defer s.Close()
				list = append(list, s)
			}
			ref.speed(b, name, "now", size, 20) // until its code is compiled well
			b.Run(fmt.Sprintf("%s/threads=%d", name, threads), func(b *testing.B) {
				const turns = 4
				var ours, theirs float64 // seconds a run, summed over the turns
				for range turns {
					ours += 1 / inferences(b, list, picture, b.N)
					theirs += 1 / ref.speed(b, name, "now", size, max(b.N, 5))
				}
				b.ReportMetric(turns/ours, "ours/s")
				b.ReportMetric(turns/theirs, "theirs/s")
				b.ReportMetric(theirs/ours, "ratio")
			})
		}
	}
}
