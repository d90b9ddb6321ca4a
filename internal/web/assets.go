package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"net"
	"net/http"
	"path"
	"strings"

	"plumbstride/internal/chart"
	"plumbstride/internal/paper"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/store"
	"plumbstride/internal/tempo"
)

//go:embed static
var staticFiles embed.FS

// asset is a file that pages use, packed once when the program starts.
type asset struct {
	kind   string
	packed []byte // gzip
	plain  []byte
	tag    string
}

// readAssets packs all files that pages use.
func readAssets() (map[string]asset, error) {
	out := map[string]asset{}
	add := func(name, kind string, content []byte) error {
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
		if err != nil {
			return err
		}
		if _, err := z.Write(content); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		sum := sha256.Sum256(content)
		out[name] = asset{kind, b.Bytes(), content, `"` + hex.EncodeToString(sum[:8]) + `"`}
		return nil
	}
	kinds := map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}
	entries, err := staticFiles.ReadDir("static")
	if err != nil {
		return nil, fmt.Errorf("web: %w", err)
	}
	for _, e := range entries {
		content, err := staticFiles.ReadFile(path.Join("static", e.Name()))
		if err != nil {
			return nil, fmt.Errorf("web: %w", err)
		}
		kind := kinds[path.Ext(e.Name())]
		if kind == "" {
			panic("web: no kind is known for the file " + e.Name())
		}
		if e.Name() == "site.css" {
			content = append([]byte(colours()), content...)
		}
		if err := add(e.Name(), kind, content); err != nil {
			return nil, fmt.Errorf("web: %w", err)
		}
	}
	made := map[string]string{"card.css": paper.CardStyle(), "plan.css": paper.PlanStyle(), "compare.css": paper.CompareStyle(), "beat.js": tempo.LiveJS}
	for name, content := range made {
		if err := add(name, kinds[path.Ext(name)], []byte(content)); err != nil {
			return nil, fmt.Errorf("web: %w", err)
		}
	}
	for name, font := range map[string]chart.Font{"serif.ttf": chart.Serif, "serif-italic.ttf": chart.SerifItalic, "sans.ttf": chart.Sans, "sans-medium.ttf": chart.SansMedium} {
		if err := add(name, "font/ttf", fonts.TrueType(font)); err != nil {
			return nil, fmt.Errorf("web: %w", err)
		}
	}
	return out, nil
}

// colours are the card's own, by day and by night, for everything.
func colours() string {
	return fmt.Sprintf(":root{color-scheme:light dark;%s}\n@media screen and (prefers-color-scheme:dark){:root{%s}}\n",
		chart.LightPalette().Properties(), chart.DarkPalette().Properties()) + chart.Style()
}

// static answers with a file that pages use.
func (v *visit) static() error {
	a, ok := v.site.assets[v.r.PathValue("file")]
	if !ok {
		return store.ErrNotFound
	}
	h := v.w.Header()
	h.Set("Cache-Control", "private, max-age=300")
	h.Set("Vary", "Accept-Encoding")
	h.Set("ETag", a.tag)
	if v.r.Header.Get("If-None-Match") == a.tag {
		v.w.WriteHeader(http.StatusNotModified)
		return nil
	}
	h.Set("Content-Type", a.kind)
	body := a.plain
	if strings.Contains(v.r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = a.packed
	}
	_, err := v.w.Write(body)
	return gone(err)
}

// loopback tells whether an address is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}
