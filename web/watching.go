package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/pprof"
	"time"

	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/web/watch"
)

// readyTime is how long the shop may take to answer before it counts as not ready.
const readyTime = 2 * time.Second

// readiness says whether requests can be answered now: the shop can be read, and the
// serving is not about to end. Why not is in the log, not in the answer.
func (s *Server) readiness(c *serve.Call) error {
	s.readyz(c.W, c.Request)
	return nil
}

func (s *Server) readyz(w http.ResponseWriter, r *http.Request) {
	err := errors.New("the serving ends")
	if !s.changes.over() {
		ctx, cancel := context.WithTimeout(r.Context(), readyTime)
		defer cancel()
		_, err = s.site.Shop.Revision(ctx)
	}
	if err != nil {
		s.opt.Log.WarnContext(r.Context(), "not ready", "error", err)
		plain(w, http.StatusServiceUnavailable, "not ready\n")
		return
	}
	plain(w, http.StatusOK, "ready\n")
}

func plain(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	io.WriteString(w, text) //nolint:errcheck // who asked may have gone
}

// metrics answers who may look; a program brings a token.
func (s *Server) metrics(c *serve.Call) error {
	c.W.Header().Set("Cache-Control", "no-store")
	s.opt.Watch.Metrics().ServeHTTP(c.W, c.Request)
	return nil
}

// Beside answers /healthz, /readyz and /metrics without asking who comes: for a port
// of its own that only the watching programs reach.
func (s *Server) Beside() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { plain(w, http.StatusOK, "ok\n") })
	mux.HandleFunc("GET /readyz", s.readyz)
	mux.Handle("GET /metrics", s.opt.Watch.Metrics())
	return mux
}

// profile lets an owner look into the program, where it was started so: all profiles of
// runtime/pprof. The command line is left out, since secrets may stand in it.
func (s *Server) profile(c *serve.Call) error {
	name := c.PathValue("name")
	if !s.opt.Pprof || name == "cmdline" {
		return shop.Errorf(shop.NotFound, "there is nothing here; the program was not started with --pprof")
	}
	watch.Of(c.Context()).Waits = true
	c.W.Header().Set("Cache-Control", "no-store")
	switch name {
	case "profile":
		pprof.Profile(c.W, c.Request)
	case "trace":
		pprof.Trace(c.W, c.Request)
	case "symbol":
		pprof.Symbol(c.W, c.Request)
	default:
		pprof.Index(c.W, c.Request)
	}
	return nil
}
