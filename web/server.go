package web

import (
	"compress/gzip"
	"context"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"github.com/klauspost/compress/gzhttp"

	"needlepace/act"
	"needlepace/jobs"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/telling/mqtt"
	"needlepace/web/api"
	"needlepace/web/door"
	"needlepace/web/pages"
	"needlepace/web/serve"
	"needlepace/web/watch"
	"needlepace/words"
)

// Options is how the app is served.
type Options struct {
	// Accounts makes people sign in. Without it everybody who reaches the
	// address is the owner: only for a loopback address.
	Accounts bool
	// Secure says that people reach the app by HTTPS: cookies are then for
	// HTTPS only.
	Secure bool
	// Strict says that no name of the app is reached otherwise: browsers are told to
	// keep to HTTPS.
	Strict bool
	// Proxy is what people come by; nil where they come by themselves.
	Proxy *Proxy
	// Watch counts what is answered; nil has one made.
	Watch *watch.Watch
	// Copies are the shop's that are made regularly; nil for none.
	Copies *watch.Copies
	// Feed takes in what machines tell; nil for none.
	Feed *mqtt.Feed
	// Pprof lets an owner look into the program while it runs.
	Pprof bool
	// Hosts are the names and addresses by which the app may be called,
	// without port; loopback names always may. Where there are accounts and no
	// hosts are given, any may. It keeps other sites from reaching the app by
	// a name of theirs that they point here.
	Hosts []string
	// MaxUpload is the largest request body in bytes; 0 is 64 MB.
	MaxUpload int64
	// WorkTime is how long one request's computing may take; 0 is 30 s. Work
	// (learn, floor, compare …) runs apart and has LongTime; 0 is 10 min.
	WorkTime, LongTime time.Duration
	// Slots are for long work of all shops of one program; nil where there is one.
	Slots *jobs.Slots
	// Door lets phones in by a port of its own, once it is opened; nil has none.
	// Close shuts it.
	Door     *door.Door
	Log      *slog.Logger    // nil: none
	Version  string          // of the program, shown
	Language *words.Language // that the pages speak; nil: English
	Now      func() time.Time
}

// SlowFrom is from when on a request is listed as slow, where nothing else is said.
const SlowFrom = time.Second

// Server is the app.
type Server struct {
	opt        Options
	site       serve.Site
	sessions   *sessions
	neighbours *neighbours // shops under the same roof; nil for none
	changes    *changes    // what pages that stand open are told
	mux        *http.ServeMux
	handler    http.Handler
	known      func(host string) bool // a name that it may be called by, without port, in lower case
}

// New makes the app for a shop. Close it when the serving is over.
func New(s *act.Shop, opt Options) *Server {
	if opt.MaxUpload == 0 {
		opt.MaxUpload = 64 << 20
	}
	if opt.WorkTime == 0 {
		opt.WorkTime = 30 * time.Second
	}
	if opt.LongTime == 0 {
		opt.LongTime = 10 * time.Minute
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Watch == nil {
		opt.Watch = watch.New(opt.Version, SlowFrom, time.Now)
	}
	if opt.Copies != nil {
		opt.Watch.Register(opt.Copies.Metrics()...)
	}
	opt.Log = slog.New(watch.Logged(opt.Log.Handler()))
	if opt.Language == nil {
		opt.Language = words.English()
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	v := &Server{opt: opt, mux: http.NewServeMux(),
		sessions: &sessions{shop: s, secure: opt.Secure, signIns: newLimiter(opt.Now), sends: &sends{now: opt.Now}, watch: opt.Watch}}
	v.changes = &changes{look: s.Revision}
	v.known = v.hostKnown
	v.site = serve.Site{
		Shop: s, Jobs: jobs.NewLocal(opt.LongTime, opt.Now, opt.Slots), Recordings: recordings.New(opt.Now), Sessions: v.sessions, Log: opt.Log, Now: opt.Now,
		Version: opt.Version, Accounts: opt.Accounts, Secure: opt.Secure, MaxUpload: opt.MaxUpload,
		Language: opt.Language, Door: opt.Door, Assets: assetRoot(), Watch: opt.Watch, Copies: opt.Copies, Feed: opt.Feed, Kept: &serve.Kept{},
	}
	v.register()
	v.handler = v.guard(v.mux)
	if opt.Door != nil {
		v.behind(opt.Door)
	}
	return v
}

// Handler is the whole app.
func (s *Server) Handler() http.Handler { return s.handler }

// EndEvents ends what pages that stand open are told: an orderly end of the serving
// waits for all requests, and theirs have no end of their own.
func (s *Server) EndEvents() { s.changes.end() }

// Close shuts the door for phones and stops the work under way.
func (s *Server) Close() {
	s.EndEvents()
	if s.opt.Door != nil {
		ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		defer cancel()
		if err := s.opt.Door.Shut(ctx); err != nil {
			s.opt.Log.Debug("the phones' requests were cut off", "error", err)
		}
	}
	s.site.Jobs.Close()
}

// Jobs is the long work under way.
func (s *Server) Jobs() jobs.Queue { return s.site.Jobs }

// Kept are the pages that are kept as they were written.
func (s *Server) Kept() *serve.Kept { return s.site.Kept }

// Recordings are those under way.
func (s *Server) Recordings() *recordings.Desk { return s.site.Recordings }

// Match is the pattern of the route that would answer a request.
func (s *Server) Match(r *http.Request) string {
	_, pattern := s.mux.Handler(r)
	return pattern
}

// policy keeps the pages to what the app itself serves: no inline script or
// style, nothing from elsewhere, no frames.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; " +
	"connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"frame-ancestors 'none'; base-uri 'none'; form-action 'self'"

// guard is what every request passes first, outermost last.
func (s *Server) guard(next http.Handler) http.Handler {
	h := compressed(limitBody(next, s.opt.MaxUpload))
	h = s.crossOrigin(h)
	h = httpsOnly(h)
	h = s.knownHost(h)
	h = s.strictly(h)
	h = s.proxied(h)
	h = guarded(h)
	return s.logged(h)
}

// compressed packs what is text, quickly, for who takes it packed.
func compressed(next http.Handler) http.Handler {
	pack, err := gzhttp.NewWrapper(gzhttp.CompressionLevel(gzip.BestSpeed), gzhttp.ContentTypes([]string{
		"text/html", "text/css", "text/javascript", "text/plain", "text/csv", "text/calendar", "application/json",
		"application/manifest+json", "image/svg+xml", "font/ttf"}))
	if err != nil {
		panic(err) // of a wrong option only
	}
	return pack(next)
}

// guarded has every answer say what its page may do, whoever answers.
func guarded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy",
			"camera=(), microphone=(self), geolocation=(), payment=(), usb=(), screen-wake-lock=(self)")
		next.ServeHTTP(w, r)
	})
}

func (s *Server) strictly(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if hsts := s.strict(r); hsts != "" {
			w.Header().Set("Strict-Transport-Security", hsts)
		}
		next.ServeHTTP(w, r)
	})
}

// fail tells what was wrong before or beside a route: the API in its form, else
// as a page.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	c := &serve.Call{Request: r, Site: &s.site, W: w, Ctx: r.Context()}
	if strings.HasPrefix(r.URL.Path, "/api/") {
		api.Fail(c, err)
		return
	}
	pages.Fail(c, err)
}

// crossOrigin refuses changes that another site's page asks for.
func (s *Server) crossOrigin(next http.Handler) http.Handler {
	c := http.NewCrossOriginProtection()
	c.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, shop.Errorf(shop.Forbidden, "this request came from another site and was refused"))
	}))
	return c.Handler(next)
}

func (s *Server) knownHost(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		if !s.known(strings.ToLower(strings.Trim(host, "[]"))) {
			http.Error(w,
				"This app does not answer under this name. Call it by its address, or add the name with --host.",
				http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (s *Server) hostKnown(host string) bool {
	if host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return true
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		return true
	}
	for _, known := range s.opt.Hosts {
		if strings.EqualFold(host, known) {
			return true
		}
	}
	return s.opt.Accounts && len(s.opt.Hosts) == 0
}

func limitBody(next http.Handler, most int64) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Body != nil {
			r.Body = http.MaxBytesReader(w, r.Body, most)
		}
		next.ServeHTTP(w, r)
	})
}

// withoutCode is an address's path for the log: the code of an open call lets in whoever has it.
func withoutCode(path string) string {
	if strings.HasPrefix(path, "/call/") {
		return "/call/{code}"
	}
	return path
}

// logged writes a line for each request: no bodies, queries, cookies, codes or names,
// since secrets stand there. A panic in a handler is logged and answered.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r, asked := s.opt.Watch.Begin(r)
		path := withoutCode(r.URL.Path)
		w.Header().Set("X-Request-Id", asked.ID)
		rec := &recorder{ResponseWriter: w}
		defer func() {
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					s.opt.Watch.End(asked, r.Method, path, rec.status)
					panic(p)
				}
				s.opt.Log.ErrorContext(r.Context(), "a handler failed", "method", r.Method, "path", path, "panic", p, "stack",
					string(debug.Stack()))
				if rec.status == 0 {
					s.fail(rec, r, shop.Errorf("internal", "something went wrong in the program; it was logged"))
				}
			}
			level := slog.LevelInfo
			if rec.status >= 500 && r.Context().Err() == nil { // who asked is there: no page was left while it loaded
				level = slog.LevelError
			}
			took := s.opt.Watch.End(asked, r.Method, path, rec.status)
			s.opt.Log.Log(context.WithoutCancel(r.Context()), level, "request", "method", r.Method, "path", path,
				"status", rec.status, "bytes", rec.bytes, "ms", float64(took.Microseconds())/1000)
		}()
		next.ServeHTTP(rec, r)
	})
}

// recorder remembers what was answered.
type recorder struct {
	http.ResponseWriter
	status int
	bytes  int64
}

func (r *recorder) WriteHeader(code int) {
	if r.status == 0 {
		r.status = code
	}
	r.ResponseWriter.WriteHeader(code)
}

func (r *recorder) Write(b []byte) (int, error) {
	if r.status == 0 {
		r.status = http.StatusOK
	}
	n, err := r.ResponseWriter.Write(b)
	r.bytes += int64(n)
	return n, err
}

// Unwrap lets http.ResponseController reach the connection.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }
