package infer_test

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"plumbstride/internal/supply"
)

// The reference: an independent runtime that runs the TFLite files as they
// are (@litertjs/core, WebAssembly), in a browser without a window.

//go:embed testdata/litert.html
var litertPage []byte

func litertCore() supply.Package {
	return supply.Package{
		Name: "@litertjs/core", Version: "2.5.3", File: "litertjs-core-2.5.3.tgz", Size: 11817097,
		SHA256: "a97660833e9e7e1063c95e12016718881240b14f7438728a2f62785e912d30fd", Licence: "Apache-2.0",
	}
}

func litertUtils() supply.Package {
	return supply.Package{
		Name: "@litertjs/wasm-utils", Version: "2.5.3", File: "litertjs-wasm-utils-2.5.3.tgz", Size: 4698,
		SHA256: "ce2a1f8379c067be49e59752e5a7f40db6be09f6e497f0f11e59f17b515366a7", Licence: "Apache-2.0",
	}
}

// lacking skips on a developer's machine, and fails where everything must run.
func lacking(tb testing.TB, format string, args ...any) {
	tb.Helper()
	if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
		tb.Fatalf(format, args...)
	}
	tb.Skipf(format, args...)
}

// packed gives the contents of a package, fetched once into a per-user cache.
func packed(tb testing.TB, p supply.Package) map[string][]byte {
	tb.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		tb.Fatal(err)
	}
	folder := filepath.Join(cache, "plumbstride-test")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		tb.Fatal(err)
	}
	path := filepath.Join(folder, p.File)
	data, err := os.ReadFile(path)
	if sum := sha256.Sum256(data); err != nil || hex.EncodeToString(sum[:]) != p.SHA256 {
		if _, err := exec.LookPath("npm"); err != nil {
			lacking(tb, "npm is lacking, which fetches the reference runtime: %v", err)
		}
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
		defer cancel()
		if path, err = p.Fetch(ctx, folder, func(string, int64, int64) {}); err != nil {
			tb.Fatal(err)
		}
		if data, err = os.ReadFile(path); err != nil {
			tb.Fatal(err)
		}
	}
	return unpacked(tb, data)
}

func unpacked(tb testing.TB, tgz []byte) map[string][]byte {
	tb.Helper()
	z, err := gzip.NewReader(bytes.NewReader(tgz))
	if err != nil {
		tb.Fatal(err)
	}
	out := map[string][]byte{}
	for t := tar.NewReader(z); ; {
		head, err := t.Next()
		if err == io.EOF {
			return out
		}
		if err != nil {
			tb.Fatal(err)
		}
		data, err := io.ReadAll(t)
		if err != nil {
			tb.Fatal(err)
		}
		out[strings.TrimPrefix(head.Name, "package/")] = data
	}
}

// sourceFile is where each network lies in its package.
var sourceFile = map[string]string{
	"detector": "pose_solution_packed_assets.data",
	"lite":     "pose_landmark_lite.tflite",
	"full":     "pose_landmark_full.tflite",
	"heavy":    "pose_landmark_heavy.tflite",
}

// reference is the page with the runtime.
type reference struct {
	page     context.Context
	arrived  chan []float32 // outputs, in order
	pictures map[string][]float32
}

// openReference starts the server and the browser; threads as in the page.
func openReference(tb testing.TB, threads int) *reference {
	tb.Helper()
	browser := chromium(tb)
	ref := &reference{arrived: make(chan []float32, 16), pictures: map[string][]float32{}}
	server := httptest.NewServer(ref.handler(packed(tb, litertCore()), packed(tb, litertUtils()), packed(tb, supply.Networks())))
	tb.Cleanup(server.Close)

	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(browser), chromedp.UserDataDir(tb.TempDir()), chromedp.Headless, chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-extensions", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
	}
	run, stop := chromedp.NewExecAllocator(context.Background(), options...)
	tb.Cleanup(stop)
	page, leave := chromedp.NewContext(run)
	tb.Cleanup(func() {
		if err := chromedp.Cancel(page); err != nil {
			tb.Logf("close the browser: %v", err)
		}
		leave()
	})
	ref.page = page
	if err := chromedp.Do(page, chromedp.Navigate(fmt.Sprintf("%s/?threads=%d", server.URL, threads))); err != nil {
		tb.Fatalf("open the reference runtime's page: %v", err)
	}
	state, err := chromedp.Run(page, chromedp.Poll[string]("window.state",
		chromedp.WithPollingInterval(100*time.Millisecond), chromedp.WithPollingTimeout(2*time.Minute)))
	if err != nil {
		tb.Fatalf("start the reference runtime: %v", err)
	}
	if state != "ready" {
		tb.Fatalf("the reference runtime: %s", state)
	}
	return ref
}

func chromium(tb testing.TB) string {
	tb.Helper()
	for _, name := range []string{"chromium", "chromium-browser"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	lacking(tb, "Chromium is lacking, in which the reference runtime runs (apt-get install chromium)")
	return ""
}

// handler serves the page, the runtime, the networks and the pictures, and
// takes outputs. The headers allow threads to share memory.
func (r *reference) handler(core, utils, networks map[string][]byte) http.Handler {
	file := func(files map[string][]byte) http.HandlerFunc {
		return func(w http.ResponseWriter, q *http.Request) {
			name := q.PathValue("name")
			data, ok := files[name]
			if !ok {
				http.NotFound(w, q)
				return
			}
			kind := map[string]string{".js": "text/javascript", ".wasm": "application/wasm"}[filepath.Ext(name)]
			if kind == "" {
				kind = "application/octet-stream"
			}
			w.Header().Set("Content-Type", kind)
			w.Write(data)
		}
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Write(litertPage)
	})
	mux.HandleFunc("GET /core/{name...}", file(core))
	mux.HandleFunc("GET /utils/{name...}", file(utils))
	mux.HandleFunc("GET /net/{name}", func(w http.ResponseWriter, q *http.Request) {
		w.Write(networks[sourceFile[q.PathValue("name")]])
	})
	mux.HandleFunc("GET /picture/{name}", func(w http.ResponseWriter, q *http.Request) {
		binary.Write(w, binary.LittleEndian, r.pictures[q.PathValue("name")])
	})
	mux.HandleFunc("POST /out", func(w http.ResponseWriter, q *http.Request) {
		data, err := io.ReadAll(q.Body)
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		out := make([]float32, len(data)/4)
		for i := range out {
			out[i] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))
		}
		r.arrived <- out
	})
	return http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		w.Header().Set("Cross-Origin-Opener-Policy", "same-origin")
		w.Header().Set("Cross-Origin-Embedder-Policy", "require-corp")
		mux.ServeHTTP(w, q)
	})
}

// evaluate runs a promise in the page and gives its value.
func (r *reference) evaluate(tb testing.TB, script string) float64 {
	tb.Helper()
	ctx, cancel := context.WithTimeout(r.page, 5*time.Minute)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[float64](script, chromedp.EvalAwaitPromise))
	if err != nil {
		tb.Fatalf("%s: %v", script, err)
	}
	return v
}

// outputs runs a network on the named picture; the outputs are told apart by
// their length.
func (r *reference) outputs(tb testing.TB, network, picture string, size int) map[int][]float32 {
	tb.Helper()
	n := r.evaluate(tb, fmt.Sprintf("window.reference.outputs(%q, %q, [1, %d, %d, 3])", network, "/picture/"+picture, size, size))
	out := map[int][]float32{}
	for range int(n) {
		v := <-r.arrived
		out[len(v)] = v
	}
	return out
}

// speed gives runs per second of a network.
func (r *reference) speed(tb testing.TB, network, picture string, size, runs int) float64 {
	tb.Helper()
	return r.evaluate(tb, fmt.Sprintf("window.reference.speed(%q, %q, [1, %d, %d, 3], %d)",
		network, "/picture/"+picture, size, size, runs))
}
