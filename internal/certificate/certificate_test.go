package certificate

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func certificateFor(t *testing.T, folder string, now time.Time, hosts ...string) tls.Certificate {
	t.Helper()
	c, err := For(folder, hosts, now)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestKeptAndRenewed(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "tls")
	now := time.Now()
	first := certificateFor(t, folder, now, "localhost", "192.168.1.20", "fe80::1")
	same := func(c tls.Certificate) bool { return bytes.Equal(c.Certificate[0], first.Certificate[0]) }
	if again := certificateFor(t, folder, now.Add(300*24*time.Hour), "192.168.1.20"); !same(again) {
		t.Error("one that is good was not kept")
	}
	if late := certificateFor(t, folder, now.Add(368*24*time.Hour), "192.168.1.20"); same(late) {
		t.Error("one that is nearly over was kept")
	}
	moved := certificateFor(t, folder, now, "localhost", "192.168.1.21")
	if moved.Leaf.VerifyHostname("192.168.1.21") != nil || moved.Leaf.VerifyHostname("192.168.1.20") == nil {
		t.Errorf("after the machine moved: %v", moved.Leaf.IPAddresses)
	}
	if d := first.Leaf.NotAfter.Sub(first.Leaf.NotBefore); d > 398*24*time.Hour {
		t.Errorf("valid for %s", d)
	}
	for _, name := range []string{keyFile, certificateFile} {
		if info, err := os.Stat(filepath.Join(folder, name)); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v, %v", name, info.Mode(), err)
		}
		if err := os.WriteFile(filepath.Join(folder, name), []byte("broken"), 0o600); err != nil {
			t.Fatal(err)
		}
		if mended := certificateFor(t, folder, now, "localhost"); mended.Leaf.VerifyHostname("localhost") != nil {
			t.Errorf("a broken %s is not made anew", name)
		}
	}
	if left, err := filepath.Glob(filepath.Join(folder, ".part-*")); err != nil || len(left) > 0 {
		t.Errorf("%v, %v", left, err)
	}
	if _, err := For(filepath.Join(folder, keyFile, "x"), []string{"localhost"}, now); err == nil {
		t.Error("a folder that can't be")
	}
}

// TestServes: Go's own client, which trusts this certificate alone, reaches a
// server by every address.
func TestServes(t *testing.T) {
	c := certificateFor(t, t.TempDir(), time.Now(), "localhost", "127.0.0.1")
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "here") }))
	server.TLS = &tls.Config{Certificates: []tls.Certificate{c}, MinVersion: tls.VersionTLS12}
	server.StartTLS()
	defer server.Close()
	trust := x509.NewCertPool()
	trust.AddCert(c.Leaf)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust, MinVersion: tls.VersionTLS12}}}
	_, port, err := net.SplitHostPort(server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	for _, host := range []string{"localhost", "127.0.0.1"} {
		answer, err := client.Get("https://" + net.JoinHostPort(host, port))
		if err != nil {
			t.Errorf("%s: %v", host, err)
			continue
		}
		_ = answer.Body.Close()
	}
	if f := Fingerprint(c); len(strings.Split(f, ":")) != 32 || f != strings.ToUpper(f) {
		t.Error(f)
	}
}

func TestHosts(t *testing.T) {
	hosts, err := Hosts()
	if err != nil || len(hosts) < 3 {
		t.Fatal(hosts, err)
	}
	c := certificateFor(t, t.TempDir(), time.Now(), hosts...)
	for _, h := range hosts {
		if err := c.Leaf.VerifyHostname(h); err != nil {
			t.Error(err)
		}
	}
}
