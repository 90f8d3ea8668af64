package serve_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/web/serve"
)

// A fault is logged; that who asked did not wait for the answer is none, that it took too long is one.
func TestOnlyFaultsAreLoggedAsOnes(t *testing.T) {
	gone, leave := context.WithCancel(t.Context())
	leave()
	late, end := context.WithDeadline(t.Context(), time.Now().Add(-time.Second))
	defer end()
	for _, c := range []struct {
		name   string
		ctx    context.Context
		err    error
		logged bool
	}{
		{"a fault", t.Context(), errors.New("no such table"), true},
		{"who asked went away", gone, shop.Errorf(shop.Stopped, "stopped before the end: %w", gone.Err()), false},
		{"it took too long", late, shop.Errorf(shop.Stopped, "stopped before the end: %w", late.Err()), true},
		{"what was asked cannot be", t.Context(), shop.Invalidf("no"), false},
	} {
		var log bytes.Buffer
		s := &serve.Site{Log: slog.New(slog.NewTextHandler(&log, nil))}
		s.Fail(httptest.NewRecorder(), httptest.NewRequestWithContext(c.ctx, http.MethodGet, "/", nil), c.err)
		if got := log.Len() > 0; got != c.logged {
			t.Errorf("%s: logged %v, want %v: %s", c.name, got, c.logged, &log)
		}
	}
}
