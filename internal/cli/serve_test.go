package cli

import (
	"bytes"
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/home"
)

// TestAddresses: what phones on the local network can use comes first, and
// this machine alone is only named where nobody else can come.
func TestAddresses(t *testing.T) {
	hosts := []string{"localhost", "desk", "desk.local", "192.0.2.7", "2001:db8::7", "127.0.0.1", "::1"}
	for at, want := range map[string][]string{
		"[::]:8440":      {"https://192.0.2.7:8440/", "https://desk.local:8440/", "https://localhost:8440/"},
		"127.0.0.1:81":   {"https://localhost:81/"},
		"192.0.2.7:8440": {"https://192.0.2.7:8440/"},
	} {
		where, err := net.ResolveTCPAddr("tcp", at)
		if err != nil {
			t.Fatal(err)
		}
		if got := addresses("https", where, hosts); !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", at, got, want)
		}
	}
}

// spoken is what a command has said so far.
type spoken struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *spoken) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// TestServe starts the whole program on a free port of this machine, over
// TLS and without, asks for a page, and ends it.
func TestServe(t *testing.T) {
	for _, plain := range []bool{false, true} {
		t.Run(fmt.Sprint(plain), func(t *testing.T) {
			t.Setenv(home.Variable, t.TempDir())
			ctx, stop := context.WithCancel(t.Context())
			var out, errs spoken
			args := []string{"serve", "--address", "127.0.0.1:0"}
			if plain {
				args = append(args, "--http")
			}
			ended := make(chan int, 1)
			go func() { ended <- Main(ctx, args, Stdio{Out: &out, Err: &errs}) }()
			url := ""
			for deadline := time.Now().Add(time.Minute); url == ""; time.Sleep(10 * time.Millisecond) {
				if time.Now().After(deadline) {
					t.Fatalf("it never said where it is: %s%s", out.String(), errs.String())
				}
				if strings.Contains(out.String(), "Ctrl-C") {
					url = regexp.MustCompile(`https?://localhost:\d+/`).FindString(out.String())
				}
			}
			client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
			got, err := client.Get(url)
			if err != nil {
				t.Fatal(err)
			}
			body, err := io.ReadAll(got.Body)
			if err != nil || !strings.Contains(string(body), "Make the first account") {
				t.Errorf("%d %s", got.StatusCode, body)
			}
			_ = got.Body.Close()
			code := regexp.MustCompile(`with this code: ([a-z2-7]{10})`).FindStringSubmatch(out.String())
			if code == nil {
				t.Errorf("no code is shown: %s", out.String())
			}
			if warned := strings.Contains(errs.String(), "WARNING: without encryption"); warned != plain {
				t.Errorf("warned %v over plain HTTP %v", warned, plain)
			}
			if shows := strings.Contains(out.String(), "fingerprint"); shows == plain {
				t.Errorf("fingerprint shown: %v", shows)
			}
			client.CloseIdleConnections()
			stop()
			if status := <-ended; status != exitDone {
				t.Errorf("status %d: %s", status, errs.String())
			}
		})
	}
}
