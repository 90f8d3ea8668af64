package serve

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// Bytes answers with bytes under an ETag: who has them is told so. An empty
// tag is made from the bytes.
func (c *Call) Bytes(mediaType string, b []byte, tag string) {
	if tag == "" {
		tag = ShortDigest(b)
	}
	h := c.W.Header()
	h.Set("ETag", `"`+tag+`"`)
	h.Set("Cache-Control", "private, no-cache") // ask each time, and be told 304
	h.Set("Content-Type", mediaType)
	http.ServeContent(c.W, c.Request, "", time.Time{}, bytes.NewReader(b))
}

// Download is bytes that the browser saves under a name.
func (c *Call) Download(name, mediaType string, b []byte, tag string) {
	c.W.Header().Set("Content-Disposition", Attachment(name))
	c.Bytes(mediaType, b, tag)
}

// Attachment names a file to save (RFC 6266): plain ASCII for old clients,
// RFC 5987 for all.
func Attachment(name string) string {
	ascii := strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' || strings.ContainsRune(`"\/;%`, r) {
			return '_'
		}
		return r
	}, name)
	return fmt.Sprintf(`attachment; filename="%s"; filename*=UTF-8''%s`, ascii,
		strings.ReplaceAll(url.QueryEscape(name), "+", "%20"))
}

// SaveAs is a Content-Disposition with a name made of letters, digits and
// hyphens.
func SaveAs(name, ext string) string {
	plain := strings.Trim(strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '.' || c == '_' {
			return c
		}
		return '-'
	}, name), "-.")
	for strings.Contains(plain, "--") {
		plain = strings.ReplaceAll(plain, "--", "-")
	}
	if plain == "" {
		plain = "needlepace"
	}
	return fmt.Sprintf(`attachment; filename="%s%s"; filename*=UTF-8''%s`, plain, ext, url.PathEscape(name+ext))
}

// LocalPath keeps a redirect on this site.
func LocalPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.ContainsAny(p, "\\\r\n\t") {
		return "/"
	}
	return p
}

// ShortDigest tells contents apart, for tags.
func ShortDigest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:12])
}
