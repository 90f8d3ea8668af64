package web

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"needlepace/act"
	"needlepace/shop"
)

// Roof serves several shops, each as an app of its own under a name of its own:
// SHOP.NAME. Browsers keep cookies and what they know apart by name, and nothing of
// one shop is in another's app: no sign-in, no memory, no page that is kept.
type Roof struct {
	opt      RoofOptions
	registry *prometheus.Registry
	answered *prometheus.CounterVec
	people   *act.People // nil: everybody has an account in each shop
	stop     context.CancelFunc
	swept    chan struct{}

	mu    sync.Mutex
	over  bool
	shops map[string]*under
	names []string // that are there
	asked time.Time
}

// RoofOptions is how shops are served.
type RoofOptions struct {
	// Name is what follows the shop's in an address.
	Name string
	// Names are the shops that are there.
	Names func(context.Context) ([]string, error)
	// Open opens a shop and makes its app; closing the app is the caller's, let the
	// shop's.
	Open func(ctx context.Context, name string) (app *Server, let func() error, err error)
	// People opens where it is kept who is one person in several shops, see act.People; nil: nobody is.
	People func(ctx context.Context, create bool) (shop.PeopleStore, error)
	// Idle is after how long a shop that nobody asks and that does nothing is closed.
	Idle  time.Duration
	Proxy *Proxy // that people come by; nil where they come by themselves
	Log   *slog.Logger
	Now   func() time.Time
}

const (
	openTime  = 30 * time.Second // for a shop to be opened
	namesTime = 2 * time.Second  // how long it is remembered which shops there are
	sweepTime = time.Minute
)

// under is a shop that is open, being opened or being closed.
type under struct {
	done  chan struct{} // closed when it is open, or could not be opened
	app   *Server
	let   func() error
	err   error
	users int // requests under way
	last  time.Time
	gone  chan struct{} // not nil: it is being closed; closed when it is
}

// NewRoof serves shops. Close it in the end.
func NewRoof(opt RoofOptions) *Roof {
	f := &Roof{opt: opt, registry: prometheus.NewRegistry(), shops: map[string]*under{}, swept: make(chan struct{}),
		answered: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "needlepace_shop_requests_total",
			Help: "Requests answered, by shop and status."}, []string{"shop", "status"})}
	if opt.People != nil {
		f.people = &act.People{Open: opt.People, Now: opt.Now, Log: opt.Log, At: func(ctx context.Context, name string) (*act.Shop, func(), error) {
			app, done, err := f.take(ctx, name)
			if err != nil {
				return nil, nil, err
			}
			return app.site.Shop, done, nil
		}}
	}
	f.registry.MustRegister(f.answered, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "needlepace_shops_open", Help: "Shops that are open now."}, func() float64 {
			f.mu.Lock()
			defer f.mu.Unlock()
			return float64(len(f.shops))
		}))
	var ctx context.Context
	ctx, f.stop = context.WithCancel(context.Background())
	go func() {
		defer close(f.swept)
		t := time.NewTicker(sweepTime)
		defer t.Stop()
		for {
			select {
			case <-t.C:
				f.Sweep()
			case <-ctx.Done():
				return
			}
		}
	}()
	return f
}

// ServeHTTP hands a request to the shop that it names.
func (f *Roof) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	guarded(http.HandlerFunc(f.answer)).ServeHTTP(w, r)
}

func (f *Roof) answer(w http.ResponseWriter, r *http.Request) {
	r, err := f.opt.Proxy.known(r)
	if err != nil {
		http.Error(w, shop.ErrorOf(err).Text, http.StatusBadRequest)
		return
	}
	name, ok := f.named(r.Host)
	switch {
	case r.URL.Path == "/healthz" && !ok:
		plain(w, http.StatusOK, "ok\n")
		return
	case r.URL.Path == "/readyz" && !ok:
		f.ready(w, r)
		return
	case !ok:
		http.Error(w, "Several shops are served here, each at an address of its own: SHOP."+f.opt.Name+". Ask whoever keeps yours for its name.",
			http.StatusMisdirectedRequest)
		return
	}
	app, done, err := f.take(r.Context(), name)
	if err != nil {
		status, text := http.StatusServiceUnavailable, "The shop cannot be opened now; try again in a minute."
		if shop.CodeOf(err) == shop.NotFound {
			status, text = http.StatusNotFound, "There is no shop at this address. Ask whoever keeps yours for its name."
		} else {
			f.opt.Log.Error("a shop cannot be opened", "shop", name, "error", err)
			w.Header().Set("Retry-After", "10")
		}
		http.Error(w, text, status)
		return
	}
	rec := &recorder{ResponseWriter: w}
	defer func() {
		done()
		f.answered.WithLabelValues(name, strconv.Itoa(rec.status)).Inc()
	}()
	app.Handler().ServeHTTP(rec, r)
}

// named is the shop that a host names.
func (f *Roof) named(host string) (name string, ok bool) {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	name, ok = strings.CutSuffix(strings.ToLower(host), "."+strings.ToLower(f.opt.Name))
	return name, ok && shop.IsAddressName(name)
}

// take is a shop's app until done; where the shop is shut it is opened.
func (f *Roof) take(ctx context.Context, name string) (app *Server, done func(), err error) {
	for {
		f.mu.Lock()
		if f.over {
			f.mu.Unlock()
			return nil, nil, errors.New("the serving ends")
		}
		u := f.shops[name]
		if u != nil && u.gone != nil {
			f.mu.Unlock()
			select {
			case <-u.gone:
				continue
			case <-ctx.Done():
				return nil, nil, ctx.Err()
			}
		}
		if u == nil {
			u = &under{done: make(chan struct{}), last: f.opt.Now()}
			f.shops[name] = u
			go f.open(name, u)
		}
		u.users++
		f.mu.Unlock()
		done := func() {
			f.mu.Lock()
			defer f.mu.Unlock()
			u.users--
			u.last = f.opt.Now()
		}
		select {
		case <-u.done:
		case <-ctx.Done():
			done()
			return nil, nil, ctx.Err()
		}
		if u.err != nil {
			done()
			return nil, nil, u.err
		}
		return u.app, done, nil
	}
}

// open opens a shop; it goes on where who asked first has gone.
func (f *Roof) open(name string, u *under) {
	ctx, cancel := context.WithTimeout(context.Background(), openTime)
	defer cancel()
	there, err := f.there(ctx, name)
	switch {
	case err != nil:
		u.err = err
	case !there:
		u.err = shop.Errorf(shop.NotFound, "there is no shop %s", name)
	default:
		if u.app, u.let, u.err = f.opt.Open(ctx, name); u.err == nil {
			u.app.under(f, name)
			if err := u.app.site.Shop.Accounts.Current(ctx); err != nil { // what cannot be written, or reached, is tried at the next sign-in
				f.opt.Log.Error("the passwords of those who work in several shops are not all the present ones", "shop", name, "error", err)
			}
		}
	}
	if u.err != nil {
		f.mu.Lock()
		delete(f.shops, name)
		f.mu.Unlock()
	}
	close(u.done)
}

// there reports whether there is a shop of a name. Which there are is asked every few
// seconds at most: names that somebody thinks up cost the database nothing.
func (f *Roof) there(ctx context.Context, name string) (bool, error) {
	f.mu.Lock()
	names, fresh := f.names, f.opt.Now().Sub(f.asked).Abs() < namesTime
	f.mu.Unlock()
	if !fresh {
		now := f.opt.Now()
		var err error
		if names, err = f.opt.Names(ctx); err != nil {
			return false, err
		}
		f.mu.Lock()
		f.names, f.asked = names, now
		f.mu.Unlock()
	}
	return slices.Contains(names, name), nil
}

// Sweep closes the shops that nobody asked for a while and that have no work under way.
func (f *Roof) Sweep() {
	f.close(func(u *under) bool {
		return u.users == 0 && f.opt.Now().Sub(u.last) >= f.opt.Idle && u.app.Jobs().Open() == 0
	})
}

// close closes the open shops of which which says so.
func (f *Roof) close(which func(*under) bool) {
	out := map[string]*under{}
	f.mu.Lock()
	for name, u := range f.shops {
		if u.gone == nil && isClosed(u.done) && u.err == nil && which(u) {
			u.gone = make(chan struct{})
			out[name] = u
		}
	}
	f.mu.Unlock()
	var all sync.WaitGroup
	for name, u := range out {
		all.Go(func() {
			u.app.Close()
			if err := u.let(); err != nil {
				f.opt.Log.Error("a shop was not closed in order", "shop", name, "error", err)
			}
			f.mu.Lock()
			delete(f.shops, name)
			f.mu.Unlock()
			close(u.gone)
		})
	}
	all.Wait()
}

func isClosed(c chan struct{}) bool {
	select {
	case <-c:
		return true
	default:
		return false
	}
}

// EndEvents ends what pages that stand open are told, in all shops.
func (f *Roof) EndEvents() {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, u := range f.shops {
		if isClosed(u.done) && u.err == nil {
			u.app.EndEvents()
		}
	}
}

// Close closes all shops, whether or not they are asked something.
func (f *Roof) Close() {
	f.stop()
	<-f.swept
	f.mu.Lock()
	f.over = true
	var opening []chan struct{}
	for _, u := range f.shops {
		opening = append(opening, u.done)
	}
	f.mu.Unlock()
	for _, c := range opening {
		<-c
	}
	f.close(func(*under) bool { return true })
}

// Beside answers /healthz, /readyz and /metrics of the whole program without asking
// who comes: for a port of its own. What a shop counts of itself is at its own address.
func (f *Roof) Beside() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { plain(w, http.StatusOK, "ok\n") })
	mux.HandleFunc("GET /readyz", f.ready)
	mux.Handle("GET /metrics", promhttp.HandlerFor(f.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 4, DisableCompression: true}))
	return mux
}

// ready says whether shops can be opened now.
func (f *Roof) ready(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), readyTime)
	defer cancel()
	if _, err := f.opt.Names(ctx); err != nil {
		f.opt.Log.Warn("not ready", "error", err)
		plain(w, http.StatusServiceUnavailable, "not ready\n")
		return
	}
	plain(w, http.StatusOK, "ready\n")
}
