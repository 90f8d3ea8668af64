package serve

import (
	"bytes"
	"cmp"
	"io"
	"net/http"
	"sync"
	"sync/atomic"

	"github.com/klauspost/compress/gzip"
	"golang.org/x/net/http/httpguts"

	"needlepace/internal/memo"
	"needlepace/shop"
)

// Kept are pages as they were written, by who reads and how: each the last one that was written.
type Kept struct {
	memo.Memo[string, *Written]
	Made atomic.Int64 // how many were written
	// Rows of lists, by a digest of all that they were made from.
	Rows memo.Memo[[32]byte, Row]
}

// Row is a row of a list as HTML.
type Row string

// Weight is how many bytes it takes.
func (r Row) Weight() int { return len(r) + 256 }

// Written is a page as it was written.
type Written struct {
	Tag    string        // ETag, with its quotes
	At     shop.Revision // the state of the shop before anything was read for it
	Of     shop.Parts    // what was read for it
	packed []byte
}

// Is reports whether the page is as it would be written at a state, or a later one: who asked before the last change may
// see it, else many who wait would have it written anew by turns.
func (w *Written) Is(now shop.Revision) bool { return w.At.AsNew(now, w.Of) }

// Weight is how many bytes it takes.
func (w *Written) Weight() int { return len(w.packed) + 512 }

// packing is how hard a page is packed: the list of designs, the heaviest, is 56 kB for 80 kB at gzip's fastest, for 2 ms more,
// once each time that it is written.
const packing = 6

// packers are used again and again: each has tables of 400 kB.
var packers = sync.Pool{New: func() any {
	z, err := gzip.NewWriterLevel(io.Discard, packing)
	if err != nil {
		panic(err) // of a wrong level only
	}
	return z
}}

// NewWritten is a page of HTML, packed.
func NewWritten(page []byte, tag string) *Written {
	b := bytes.NewBuffer(make([]byte, 0, len(page)/2)) // most pages pack to a fifth
	z := packers.Get().(*gzip.Writer)
	defer packers.Put(z)
	z.Reset(b)
	_, err := z.Write(page)
	if err = cmp.Or(err, z.Close()); err != nil {
		panic(err) // a buffer takes all
	}
	return &Written{Tag: tag, packed: bytes.Clone(b.Bytes())}
}

// Write answers with it, or that who asks has it.
func (w *Written) Write(c *Call) {
	h := c.W.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "private, no-cache")
	if c.Accounts { // nothing stays for who sits here next
		h.Set("Cache-Control", "no-store")
	}
	h.Set("ETag", w.Tag)
	if c.Header.Get("If-None-Match") == w.Tag {
		c.W.WriteHeader(http.StatusNotModified)
		return
	}
	if httpguts.HeaderValuesContainsToken(c.Header["Accept-Encoding"], "gzip") {
		h.Set("Content-Encoding", "gzip")
		c.W.Write(w.packed) //nolint:errcheck // whoever asked is gone
		return
	}
	z, err := gzip.NewReader(bytes.NewReader(w.packed))
	if err == nil {
		_, err = io.Copy(c.W, z)
	}
	if err != nil {
		c.Log.DebugContext(c.Context(), "a kept page was not sent", "err", err)
	}
}
