package main

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"
)

// counter is a line that says how far work has come; it goes where the work ends.
type counter struct {
	mu     sync.Mutex
	w      io.Writer // nil: silent
	width  int       // of the line that stands there, in runes
	most   int       // runes that fit
	what   string
	at, of int
	next   time.Time // not written again before
}

const counterEvery = 100 * time.Millisecond

// bar is a counter on stderr, silent where that is no terminal.
func (c *Ctx) bar(what string, of int) *counter {
	if !c.ErrTerminal() {
		return &counter{of: of}
	}
	return &counter{w: c.Err, most: outWidth(c.Err) - 1, what: what, of: of}
}

// Describe says what is being done.
func (b *counter) Describe(what string) { b.change(func() { b.what = what }) }

// Set says how far it has come.
func (b *counter) Set(n int) { b.change(func() { b.at = n }) }

// Add counts on.
func (b *counter) Add(n int) { b.change(func() { b.at += n }) }

func (b *counter) change(do func()) {
	b.mu.Lock()
	defer b.mu.Unlock()
	do()
	if now := time.Now(); b.w != nil && !now.Before(b.next) {
		b.next = now.Add(counterEvery)
		b.write(fmt.Sprintf("%s %d %%", b.what, 100*min(max(b.at, 0), b.of)/max(b.of, 1)))
	}
}

// write puts a line over the one that stands there.
func (b *counter) write(line string) {
	r := []rune(strings.TrimSpace(line))
	r = r[:min(len(r), max(b.most, 0))]
	fmt.Fprintf(b.w, "\r%s%s\r%s", string(r), strings.Repeat(" ", max(b.width-len(r), 0)), string(r))
	b.width = len(r)
}

// Finish takes the line away.
func (b *counter) Finish() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.w != nil && b.width > 0 {
		b.write("")
		fmt.Fprint(b.w, "\r")
	}
	b.w = nil
}
