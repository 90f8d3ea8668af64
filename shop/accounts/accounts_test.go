package accounts

import (
	"context"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
)

func TestCommonPasswordsAreRefused(t *testing.T) {
	for _, p := range []string{
		"1234567890", "0987654321", "qwertyuiop", "password123", "passw0rd123", "P@ssw0rd!!", "aaaaaaaaaaaa", "abcdefghijk", "iloveyou123", "letmein1234",
		"1q2w3e4r5t", "asdfghjkl;", "19900101 ", "adaadaada1", "Adalovelace", "needlepace1", "short", strings.Repeat("x", 600), "football2024",
		"Ada Lovelace", "ada.lovelace", "Lovelace Ada", "lovelace_ada1", "Summer2026", "sifre123456", "senha123456", "matkhau123",
	} {
		if err := CheckPassword("Ada Lovelace", p); shop.CodeOf(err) != shop.Invalid || shop.ErrorOf(err).Key != "password" {
			t.Errorf("%q: %v", p, err)
		}
	}
	for _, p := range []string{"a long enough password", "correct horse battery staple", "Tz7-hm2-Kq9x", "vier kalte gelbe Löffel", "кислая лодка седьмая", strings.Repeat("abc xyz ", 60)} {
		if err := CheckPassword("Ada Lovelace", p); err != nil {
			t.Errorf("%q: %v", p, err)
		}
	}
	began := time.Now()
	CheckPassword("Ada", strings.Repeat("aB3$", 128)) //nolint:errcheck // only its time
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("a long password is weighed for %v", took)
	}
}

// A line that is full refuses at once; what waits in it gets its turn.
func TestTheLineRefusesAtOnceWhenItIsFull(t *testing.T) {
	l := newLine()
	first, err := l.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var frees []func()
	for len(frees)+1 < cap(l.slots) {
		f, err := l.take(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		frees = append(frees, f)
	}
	var wg sync.WaitGroup
	var served, refused atomic.Int32
	for range 100 {
		wg.Go(func() {
			free, err := l.take(t.Context())
			if shop.CodeOf(err) == shop.Busy {
				refused.Add(1)
				return
			}
			if err == nil {
				served.Add(1)
				free()
			}
		})
	}
	for refused.Load() < 100-waitingMost {
		time.Sleep(time.Millisecond) // the test ends by its own time limit where they wait
	}
	first()
	for _, f := range frees {
		f()
	}
	wg.Wait()
	if served.Load() != waitingMost || refused.Load() != 100-waitingMost {
		t.Errorf("%d were served and %d refused", served.Load(), refused.Load())
	}
	if n := l.in.Load(); n != 0 {
		t.Errorf("%d are still in the line", n)
	}
	ctx, cancel := context.WithCancel(t.Context())
	free, err := l.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for range cap(l.slots) - 1 {
		if _, err := l.take(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	cancel()
	if _, err := l.take(ctx); shop.CodeOf(err) != shop.Stopped {
		t.Errorf("one that went away: %v", err)
	}
	free()
}
