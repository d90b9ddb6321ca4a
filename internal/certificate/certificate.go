// Package certificate takes the names and addresses of this machine and gives
// a certificate for them, made here and kept in the data folder, so that
// phones on the local network reach the program over TLS without anybody
// else. A browser that sees it for the first time asks; Fingerprint is what
// to compare then.
package certificate

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"plumbstride/internal/form"
)

// The times of a certificate. Browsers take none that is valid for more than
// 825 days (Apple, "Requirements for trusted certificates in iOS 13 and macOS
// 10.15"), and public ones for 398.
const (
	validFor    = 397 * 24 * time.Hour
	renewBefore = 30 * 24 * time.Hour
)

// The files in the folder.
const (
	certificateFile = "certificate.pem"
	keyFile         = "key.pem"
)

// Hosts gives what this machine is called on the local network: its
// addresses, its name, its name with .local, and localhost.
func Hosts() ([]string, error) {
	hosts := []string{"localhost", "127.0.0.1", "::1"}
	if name, err := os.Hostname(); err == nil && name != "" {
		name = strings.ToLower(name)
		first, _, _ := strings.Cut(name, ".")
		hosts = append(hosts, name, first+".local")
	}
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return nil, fmt.Errorf("this machine's addresses can't be told: %w", err)
	}
	for _, a := range addresses {
		if n, ok := a.(*net.IPNet); ok && n.IP.IsGlobalUnicast() {
			hosts = append(hosts, n.IP.String())
		}
	}
	slices.Sort(hosts)
	return slices.Compact(hosts), nil
}

// For gives a certificate that is valid for all the hosts now and for 30 days
// more: the one in the folder, or a new one, which is kept there. So a
// machine that gets a new address gets a new certificate.
func For(folder string, hosts []string, now time.Time) (tls.Certificate, error) {
	kept, err := read(folder)
	if err == nil && covers(kept.Leaf, hosts, now) {
		return kept, nil
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return kept, form.MissingError("the folder for the certificate, %s, can't be made: %w", folder, err)
	}
	certificate, key, err := create(hosts, now)
	if err != nil {
		return kept, fmt.Errorf("the certificate can't be made: %w", err)
	}
	// The key first: without its certificate it is only made anew.
	for _, f := range []struct {
		name string
		data []byte
	}{{keyFile, key}, {certificateFile, certificate}} {
		if err := put(filepath.Join(folder, f.name), f.data); err != nil {
			return kept, form.MissingError("the certificate can't be kept in %s: %w", folder, err)
		}
	}
	return read(folder)
}

// ToRead gives the certificate in the folder where it is good for all the
// hosts, and else a new one that is kept nowhere: nothing is written.
func ToRead(folder string, hosts []string, now time.Time) (tls.Certificate, error) {
	kept, err := read(folder)
	if err == nil && covers(kept.Leaf, hosts, now) {
		return kept, nil
	}
	certificate, key, err := create(hosts, now)
	if err != nil {
		return kept, fmt.Errorf("the certificate can't be made: %w", err)
	}
	return tls.X509KeyPair(certificate, key)
}

// Fingerprint is the certificate's SHA-256, in pairs as browsers show it.
func Fingerprint(c tls.Certificate) string {
	sum := sha256.Sum256(c.Leaf.Raw)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, ":")
}

// read gives the pair in the folder.
func read(folder string) (tls.Certificate, error) {
	c, err := tls.LoadX509KeyPair(filepath.Join(folder, certificateFile), filepath.Join(folder, keyFile))
	if err != nil {
		return c, err
	}
	c.Leaf, err = x509.ParseCertificate(c.Certificate[0])
	return c, err
}

// covers tells whether a certificate is good for all hosts, now and for a
// while.
func covers(c *x509.Certificate, hosts []string, now time.Time) bool {
	if now.Before(c.NotBefore) || now.Add(renewBefore).After(c.NotAfter) {
		return false
	}
	return !slices.ContainsFunc(hosts, func(h string) bool { return c.VerifyHostname(h) != nil })
}

// create makes a certificate that signs itself, and its key.
func create(hosts []string, now time.Time) (certificate, key []byte, err error) {
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, nil, err
	}
	c := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "Plumbstride on this machine"},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(validFor),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			c.IPAddresses = append(c.IPAddresses, ip)
		} else {
			c.DNSNames = append(c.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, private.Public(), private)
	if err != nil {
		return nil, nil, err
	}
	pkcs8, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		return nil, nil, err
	}
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: pkcs8}), nil
}

// put writes a file whole or not at all, for its owner alone.
func put(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*") // 0600
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if _, err := f.Write(data); err != nil {
		return errors.Join(err, f.Close())
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
