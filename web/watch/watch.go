// Package watch is what the program tells of its own running: how many requests it
// answered and how fast, for Prometheus' text format; which were slow, for the page
// "How it runs"; and the number by which the log names each request.
package watch

import (
	"context"
	"crypto/rand"
	"log/slog"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// KeptSlow is how many slow requests are remembered.
const KeptSlow = 50

// Request is one request while it is answered.
type Request struct {
	ID    string // in the log, and in the answer's X-Request-Id
	Route string // that answers it, as http.ServeMux writes it; empty for none
	Waits bool   // it waits for something to happen, so its time says nothing
	Began time.Time
}

type requestKey struct{}

// Of is the request of a context; a new one where none was begun.
func Of(ctx context.Context) *Request {
	if r, ok := ctx.Value(requestKey{}).(*Request); ok {
		return r
	}
	return &Request{}
}

// Slow is a request that took long.
type Slow struct {
	Request
	Method, Path string // without the query, which may hold secrets
	Status       int
	Took         time.Duration
}

// Watch counts what one program answers.
type Watch struct {
	Since    time.Time
	Version  string
	SlowFrom time.Duration // requests that take as long are remembered
	now      func() time.Time

	registry *prometheus.Registry
	answered *prometheus.CounterVec
	took     *prometheus.HistogramVec
	open     prometheus.Gauge
	signIns  *prometheus.CounterVec
	rounds   *prometheus.GaugeVec
	found    *prometheus.GaugeVec
	undone   *prometheus.CounterVec

	mu     sync.Mutex
	slow   []Slow // the latest last
	total  int
	failed int
}

// New begins to count.
func New(version string, slowFrom time.Duration, now func() time.Time) *Watch {
	w := &Watch{Since: now(), Version: version, SlowFrom: slowFrom, now: now, registry: prometheus.NewRegistry(),
		answered: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "needlepace_requests_total",
			Help: "Requests answered, by route and status."}, []string{"route", "status"}),
		took: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "needlepace_request_seconds",
			Help:    "Time that answers took, by route; without those that wait for something to happen.",
			Buckets: []float64{.005, .02, .05, .1, .2, .5, 1, 2, 5, 10, 30}}, []string{"route"}),
		open: prometheus.NewGauge(prometheus.GaugeOpts{Name: "needlepace_requests_open",
			Help: "Requests being answered now."}),
		signIns: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "needlepace_sign_ins_total",
			Help: "Tries to sign in: right, wrong, or refused before they were looked at."}, []string{"how"}),
		rounds: prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "needlepace_round_time_seconds",
			Help: "When this program last did what it does by itself, in seconds since 1970."}, []string{"what"}),
		found: prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "needlepace_round_found",
			Help: "What it then found that needs a person."}, []string{"what"}),
		undone: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "needlepace_rounds_failed_total",
			Help: "What it does by itself and failed."}, []string{"what"}),
	}
	built := prometheus.NewGauge(prometheus.GaugeOpts{Name: "needlepace_build_info",
		Help: "Always 1; the version stands in the label.", ConstLabels: prometheus.Labels{"version": version}})
	built.Set(1)
	w.registry.MustRegister(w.answered, w.took, w.open, w.signIns, w.rounds, w.found, w.undone, built, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return w
}

// Register adds metrics of another part of the program.
func (w *Watch) Register(c ...prometheus.Collector) { w.registry.MustRegister(c...) }

// Metrics answers in Prometheus' text format.
func (w *Watch) Metrics() http.Handler {
	return promhttp.HandlerFor(w.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 4, DisableCompression: true})
}

// Begin counts a request in and gives it a number.
func (w *Watch) Begin(r *http.Request) (*http.Request, *Request) {
	w.open.Inc()
	q := &Request{ID: rand.Text()[:12], Began: w.now()}
	return r.WithContext(context.WithValue(r.Context(), requestKey{}, q)), q
}

// End counts it out. A route is never what a client wrote, so there are as many as
// the app has.
func (w *Watch) End(q *Request, method, path string, status int) (took time.Duration) {
	w.open.Dec()
	took = max(0, w.now().Sub(q.Began)) // a clock may be set back
	route := q.Route
	if route == "" {
		route = "none"
	}
	w.answered.WithLabelValues(route, strconv.Itoa(status)).Inc()
	if !q.Waits {
		w.took.WithLabelValues(route).Observe(took.Seconds())
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.total++
	if status >= 500 {
		w.failed++
	}
	if took >= w.SlowFrom && !q.Waits {
		if len(w.slow) == KeptSlow {
			w.slow = slices.Delete(w.slow, 0, 1)
		}
		w.slow = append(w.slow, Slow{*q, method, path, status, took})
	}
	return took
}

// SignIn counts a try to sign in.
func (w *Watch) SignIn(how string) { w.signIns.WithLabelValues(how).Inc() }

// Round counts what the program did by itself, and what it found.
func (w *Watch) Round(what string, found int, failed bool) {
	if failed {
		w.undone.WithLabelValues(what).Inc()
		return
	}
	w.rounds.WithLabelValues(what).Set(float64(w.now().Unix()))
	w.found.WithLabelValues(what).Set(float64(found))
}

// State is what was counted up to now.
type State struct {
	Total, Failed int    // requests; those that the program could not answer
	Slow          []Slow // the latest first
}

// State is what was counted up to now.
func (w *Watch) State() State {
	w.mu.Lock()
	defer w.mu.Unlock()
	s := State{w.total, w.failed, slices.Clone(w.slow)}
	slices.Reverse(s.Slow)
	return s
}

// Logged adds the request's number to each line of a log that is written on its
// behalf.
func Logged(h slog.Handler) slog.Handler { return numbered{h} }

type numbered struct{ slog.Handler }

func (n numbered) Handle(ctx context.Context, r slog.Record) error {
	if q := Of(ctx); q.ID != "" {
		r = r.Clone()
		r.AddAttrs(slog.String("request", q.ID))
	}
	return n.Handler.Handle(ctx, r)
}

func (n numbered) WithAttrs(a []slog.Attr) slog.Handler { return numbered{n.Handler.WithAttrs(a)} }

func (n numbered) WithGroup(name string) slog.Handler { return numbered{n.Handler.WithGroup(name)} }
