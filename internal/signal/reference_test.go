package signal

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// The low-pass against a reference implementation's stored output
// (SciPy 1.10.1, scipy.signal.butter and filtfilt; testdata/butterworth.py
// wrote it). SciPy begins its passes differently, so the first and last half
// second are left out.
func TestLowPassAgainstReference(t *testing.T) {
	f, err := os.Open("testdata/butterworth.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var x, want []float64
	for in := bufio.NewScanner(f); in.Scan(); {
		var v, w float64
		if strings.HasPrefix(in.Text(), "#") || in.Text() == "x,y" {
			continue
		}
		if _, err := fmt.Sscanf(in.Text(), "%g,%g", &v, &w); err != nil {
			t.Fatalf("%q: %v", in.Text(), err)
		}
		x, want = append(x, v), append(want, w)
	}
	if len(x) != 600 {
		t.Fatalf("%d rows", len(x))
	}
	got := LowPass(x, 120, 10)
	for i := 60; i < 540; i++ {
		if math.Abs(got[i]-want[i]) > 1e-4 {
			t.Fatalf("sample %d: %.7f, reference %.7f", i, got[i], want[i])
		}
	}
}
