// Command shots writes a picture of every page of the app, desktop and phone,
// light and dark, on the demo shop: what `./dev shots` runs. Look at them.
// A small one of each, of a window 1440 wide in the light, is for the documentation:
// time stands still in the shop, so that it changes only where the page does.
package main

import (
	"cmp"
	"context"
	crand "crypto/rand"
	"flag"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/web/browser"
	"needlepace/web/door"
	"needlepace/web/serve"
	"needlepace/words"
)

// small is the folder of the small pictures; empty: none.
var small string

// tongue is the language that is chosen in the browser; empty: none.
var tongue string

// now is the time in the shop: a Wednesday, an hour after most shifts begin.
func now() time.Time { return time.Date(2026, time.March, 4, 8, 0, 0, 0, time.UTC) }

func main() {
	out := flag.String("o", "shots", "folder for the pictures")
	only := flag.String("only", "", "only pages whose name matches this regular expression")
	serve := flag.String("serve", "", "only serve the demo shop at this address")
	looks := flag.String("looks", "desktop-light,desktop-dark,phone-light,phone-dark",
		"which looks; also tablet-light and tablet-dark, and the printed page: a4-light, a4-dark, letter-light (a PDF each)")
	flag.StringVar(&tongue, "language", "", "tag of the language that is chosen in the browser; empty: none")
	flag.StringVar(&small, "small", "", "folder for the small pictures of desktop-light; empty: none")
	flag.Parse()
	if err := run(*out, *only, *serve, *looks); err != nil {
		fmt.Fprintln(os.Stderr, "shots:", err)
		os.Exit(1)
	}
}

// dice give the same codes and names each time, in the order in which they are asked for.
type dice struct {
	mu   sync.Mutex
	from *rand.ChaCha8
}

func (d *dice) Read(b []byte) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.from.Read(b)
}

func run(out, only, address, looks string) error {
	crand.Reader = &dice{from: rand.NewChaCha8([32]byte{})}
	ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
	defer cancel()
	match, err := regexp.Compile(only)
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "needlepace-shots-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	filled, err := open(ctx, filepath.Join(dir, "demo.db"), true)
	if err != nil {
		return err
	}
	defer filled.close()
	if address != "" {
		fmt.Println("http://" + address)
		s := &http.Server{Addr: address, Handler: filled.web.Handler()}
		go func() { <-ctx.Done(); s.Close() }()
		s.ListenAndServe()
		return nil
	}
	empty, err := open(ctx, filepath.Join(dir, "empty.db"), false)
	if err != nil {
		return err
	}
	defer empty.close()
	full, bare := httptest.NewServer(filled.web.Handler()), httptest.NewServer(empty.web.Handler())
	defer full.Close()
	defer bare.Close()
	for _, dir := range []string{out, cmp.Or(small, out)} {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return err
		}
	}
	tab, stop, err := browser.Start(ctx)
	if err != nil {
		return err
	}
	defer stop()
	pages, err := filled.pages(ctx)
	if err != nil {
		return err
	}
	if tongue != "" {
		for _, url := range []string{full.URL, bare.URL} {
			if _, err := chromedp.Call(tab, network.SetCookie, network.SetCookieParams{Name: serve.LanguageCookie, Value: tongue, URL: url}); err != nil {
				return err
			}
		}
	}
	for _, p := range pages {
		if !match.MatchString(p.name) {
			continue
		}
		base := full.URL
		if p.empty {
			base = bare.URL
		}
		for _, same := range sizes(looks) {
			if err := shoot(tab, filepath.Join(out, p.name), base+p.path, same, p); err != nil {
				return fmt.Errorf("%s %s: %w", p.name, same, err)
			}
		}
		fmt.Println(p.name)
	}
	return nil
}

// shot is one page to look at.
type shot struct {
	name, path string
	empty      bool   // of an empty shop
	first      string // script to run before
	until      string // expression that is true when what it began is there
}

// doorAddress is where the shop's phones come in: the same each time, since pages show it.
const doorAddress = "127.0.0.1:7943"

// free is an address of this computer, or another where something listens there.
func free(address string) string {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return "127.0.0.1:0"
	}
	l.Close() //nolint:errcheck // nothing came
	return address
}

type app struct {
	store *sqlite.Store
	shop  *act.Shop
	web   *web.Server
	door  *door.Door
}

func open(ctx context.Context, path string, filled bool) (*app, error) {
	store, err := sqlite.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	a := &app{store: store, shop: act.New(store, act.Options{Build: "shots", Now: now})}
	store.Now = now
	a.door = door.New(door.Options{File: path + ".authority.pem", Address: free(doorAddress),
		Places: func() []string { return []string{"192.168.1.7", "bench.local", "127.0.0.1"} }})
	a.web = web.New(a.shop, web.Options{Version: "(screenshots)", Door: a.door, Now: now,
		Log: slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelWarn}))})
	if filled {
		if err := a.fill(ctx); err != nil {
			a.close()
			return nil, err
		}
	}
	return a, nil
}

func (a *app) close() {
	a.web.Close()
	a.store.Close()
}

func (a *app) fill(ctx context.Context) error {
	if err := a.door.Open(); err != nil {
		return err
	}
	return a.shop.LoadDemo(ctx, func(float64, string) {})
}

func (a *app) pages(ctx context.Context) ([]shot, error) {
	designs, _, err := a.shop.Designs.List(ctx, shop.DesignQuery{Sort: "name", Limit: 100})
	if err != nil {
		return nil, err
	}
	byFile := map[string]string{}
	for _, d := range designs {
		byFile[d.File] = d.ID
	}
	machines, err := a.shop.Machines.List(ctx)
	if err != nil {
		return nil, err
	}
	setup := func(kind shop.SetupKind) string {
		all, err := a.shop.Setups.List(ctx, kind)
		if err != nil || len(all) == 0 {
			return ""
		}
		return all[0].ID
	}
	// The machine that is timed: an invented watch that reads 4 % more than the sheet says.
	var timed []shop.Run
	for _, file := range []string{"ostrel-light.dst", "saltmere-oars.dst", "crew-names.dst", "whale-line.dst", "gull-cap.dst", "wheel-badge.dst"} {
		k, err := a.shop.Clock(ctx, byFile[file], machines[1].ID, ask.Job{})
		if err != nil {
			return nil, err
		}
		timed = append(timed, shop.Run{DesignID: byFile[file], SetSpeed: k.Result.SetSpeed,
			Seconds: math.Round(k.Result.Seconds * 1.04), Step: 1})
	}
	if _, err := a.shop.Timings.AddRuns(ctx, machines[1].ID, timed); err != nil {
		return nil, err
	}
	// And one that trims 0.8 s slower since the eighth run.
	var changed []shop.Run
	for k := range 16 {
		file := []string{"ostrel-light-trims.dst", "larkess-ferry.dst", "crew-names.dst", "gull-cap.dst"}[k%4]
		a, err := a.shop.Clock(ctx, byFile[file], machines[2].ID, ask.Job{})
		if err != nil {
			return nil, err
		}
		took := a.Seconds
		if k >= 7 {
			took += 0.8 * float64(a.Trims)
		}
		changed = append(changed, shop.Run{DesignID: byFile[file], SetSpeed: a.SetSpeed, Seconds: math.Round(took), Step: 1,
			Date: words.NewDay(2026, 3, 1+2*k)})
	}
	if _, err := a.shop.Timings.AddRuns(ctx, machines[2].ID, changed); err != nil {
		return nil, err
	}
	owner := &shop.Account{Name: "Ada", Role: shop.Owner}
	in, err := a.shop.Phones.Ask(ctx, owner, "Bay 2", shop.Operator)
	if err != nil {
		return nil, err
	}
	if _, _, err := a.shop.Phones.LetIn(ctx, a.shop.Phones.Code(in)); err != nil {
		return nil, err
	}
	waiting, err := a.shop.Phones.Ask(ctx, owner, "Ben’s phone", shop.Planner)
	if err != nil {
		return nil, err
	}
	light := "/designs/" + byFile["ostrel-light.dst"]
	recording, err := a.heard(ctx, byFile["whale-line.dst"], machines[0].ID)
	if err != nil {
		return nil, err
	}
	all := []shot{
		{name: "first", path: "/", empty: true},
		{name: "designs", path: "/designs"},
		{name: "designs-sorted", path: "/designs?sort=-size&state=ordered"},
		{name: "design", path: light},
		{name: "design-scrubbed", path: light,
			first: `document.querySelector(".trace").dispatchEvent(new KeyboardEvent("keydown",{key:"Home",bubbles:true}));document.querySelector(".trace").dispatchEvent(new KeyboardEvent("keydown",{key:"PageUp",bubbles:true}))`},
		{name: "design-close", path: light,
			first: `for (let i = 0; i < 5; i++) document.querySelector("[data-in]").click()`},
		{name: "design-large", path: "/designs/" + byFile["harbour-jacket-back.dst"]},
		{name: "audit", path: "/designs/" + byFile["larkess-ferry.dst"] + "/audit"},
		{name: "audit-place", path: "/designs/" + byFile["wheel-badge.dst"] + "/audit?pieces=48",
			first: `document.querySelector(".findnum").click()`},
		{name: "mended", path: "/designs/" + byFile["larkess-ferry.dst"] + "/audit",
			first: `document.querySelector("form[action*='/mend'] button.main").click()`,
			until: `location.pathname.endsWith("/mended") && document.querySelector(".strips")`},
		{name: "mend-many", path: "/designs/mend?customer=Gull+%26+Ladle+chowder+house"},
		{name: "mended-many", path: "/designs/mend?design=" + byFile["larkess-ferry.dst"] + "&design=" +
			byFile["gull-cap.dst"] + "&design=" + byFile["chowder-patch.dst"] + "&design=" + byFile["whale-line.dst"],
			first: `document.querySelector("form[action='/designs/mend'] button.main").click()`,
			until: `location.pathname === "/designs/mended" && document.querySelector("#t-designs")`},
		{name: "designs-of", path: "/designs?customer=Saltmere+Rowing+Club"},
		{name: "machines", path: "/machines"},
		{name: "classes", path: "/classes"},
		{name: "classes-empty", path: "/classes", empty: true},
		{name: "classes-together", path: "/classes",
			first: `document.querySelector("form[action='/classes'] button").click()`,
			until: `document.querySelector("#t-class")`},
		{name: "machine", path: "/machines/" + machines[0].ID},
		{name: "testpiece", path: "/machines/" + machines[0].ID + "/testpiece"},
		{name: "testpiece-made", path: "/machines/" + machines[0].ID + "/testpiece",
			first: `document.querySelector("form[action$='/testpiece'] button").click()`,
			until: `document.querySelector("#t-blocks")`},
		{name: "machine-timed", path: "/machines/" + machines[1].ID,
			first: `document.querySelector("#score details").open = true`},
		{name: "learned", path: "/machines/" + machines[1].ID,
			first: `document.querySelector("form[action$='/learn'] button").click()`,
			until: `document.querySelector("#t-learned")`},
		{name: "learned-changed", path: "/machines/" + machines[2].ID,
			first: `document.querySelector("form[action$='/learn'] button").click()`,
			until: `document.querySelector("#drift")`},
		{name: "time", path: "/time"},
		{name: "listen", path: light + "/listen?machine=" + machines[0].ID},
		{name: "heard", path: "/recordings/" + recording},
		{name: "timing", path: "/time/shots-timing-0001?design=" + byFile["ostrel-light.dst"] + "&machine=" +
			machines[0].ID + "&speed=900"},
		{name: "timing-running", path: "/time/shots-timing-0002?design=" + byFile["ostrel-light.dst"] + "&machine=" +
			machines[0].ID + "&speed=900",
			// Not within 300 ms: a press that follows at once is asked about.
			first: `if (document.querySelector("[data-press]").dataset.next === "start") for (let i = 0; i < 3; i++) setTimeout(() => { Date.now = () => 1.7e12 + 1500 * i; document.querySelector(".press").click(); }, 500 * i)`, until: `document.querySelectorAll("[data-presses] li").length === 3 && !document.querySelector("[data-pressed]")`},
		{name: "compares", path: "/compare"},
		{name: "compare", path: "/compare/" + setup(shop.MixSetup)},
		{name: "floors", path: "/floor"},
		{name: "floor", path: "/floor/" + setup(shop.FloorSetup)},
		{name: "floor-more", path: "/floor/" + setup(shop.FloorSetup) + "?more=1"},
		{name: "settings", path: "/settings"},
		{name: "running", path: "/settings/running"},
		{name: "sign-ins", path: "/settings/sign-ins"},
		{name: "phones-shut", path: "/settings/phones", empty: true},
		{name: "phones", path: "/settings/phones"},
		{name: "phone", path: "/settings/phones/" + waiting.ID},
		{name: "phone-steps", path: "/settings/phones/" + waiting.ID, first: `document.querySelector("details").open = true`},
		{name: "trust", path: "/trust"},
		{name: "sign-in", path: "/sign-in"},
		{name: "help", path: "/help"},
		{name: "help-found", path: "/help?find=knee"},
		{name: "help-topic", path: "/help/reading-an-audit"},
		{name: "help-glossary", path: "/help/glossary"},
		{name: "missing", path: "/nothing-here"},
	}
	visits, err := a.visitPages(ctx)
	if err != nil {
		return nil, err
	}
	orders, err := a.orderPages(ctx)
	return append(append(all, visits...), orders...), err
}

// sizes are the looks by their size, desktop-light with desktop-dark, in the order they are asked for.
func sizes(looks string) (all [][]string) {
	for look := range strings.SplitSeq(looks, ",") {
		size, _, _ := strings.Cut(look, "-")
		k := slices.IndexFunc(all, func(of []string) bool { return strings.HasPrefix(of[0], size+"-") })
		if k < 0 {
			k, all = len(all), append(all, nil)
		}
		all[k] = append(all[k], look)
	}
	return all
}

// shoot goes to a page once and looks at it in light and in dark: its looks are of one size.
func shoot(tab context.Context, file, url string, looks []string, p shot) error {
	ctx, cancel := context.WithTimeout(tab, 60*time.Second)
	defer cancel()
	w, h, scale := int64(1440), int64(900), 1.0
	if strings.HasPrefix(looks[0], "tablet") {
		w, h = 1024, 768
	}
	if strings.HasPrefix(looks[0], "phone") {
		w, h, scale = 390, 844, 2
	}
	if err := lit(ctx, looks[0]); err != nil {
		return err
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(w, h, chromedp.EmulateScale(scale)),
		chromedp.Navigate(url)); err != nil {
		return err
	}
	ready := `!document.querySelector("[data-run]") || !!document.querySelector("[data-run][data-ready] .cloth[data-frames]")`
	if _, err := chromedp.Run(ctx, chromedp.Poll[bool](ready)); err != nil {
		return err
	}
	// The window is made as tall as the page: a capture beyond the window would
	// lay the page out anew while it is being taken.
	tall := func() error {
		high, err := chromedp.Run(ctx, chromedp.Evaluate[float64]("document.documentElement.scrollHeight"))
		if err != nil {
			return err
		}
		if high*scale > 16000 { // more than an image may be high
			scale = 1
		}
		return chromedp.Do(ctx, chromedp.EmulateViewport(w, max(h, int64(high)), chromedp.EmulateScale(scale)))
	}
	if err := tall(); err != nil {
		return err
	}
	if p.first != "" {
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](settled, chromedp.EvalAwaitPromise)); err != nil { // what fits itself to the window has
			return err
		}
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[any](p.first)); err != nil {
			return err
		}
	}
	for p.until != "" {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("!!("+p.until+")"))
		if err == nil && ok {
			break
		}
		if ctx.Err() != nil {
			return fmt.Errorf("waited in vain for %s: %w", p.until, ctx.Err())
		}
		time.Sleep(50 * time.Millisecond)
	}
	if p.first != "" { // another page may be shorter
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(w, h, chromedp.EmulateScale(scale))); err != nil {
			return err
		}
	}
	if err := tall(); err != nil {
		return err
	}
	for _, look := range looks {
		if err := lit(ctx, look); err != nil {
			return err
		}
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](settled, chromedp.EvalAwaitPromise)); err != nil {
			return err
		}
		if err := capture(ctx, file+"-"+look, look); err != nil {
			return err
		}
	}
	return nil
}

// lit lights the page, or darkens it, and has it move at once.
func lit(ctx context.Context, look string) error {
	scheme := "light"
	if strings.HasSuffix(look, "dark") {
		scheme = "dark"
	}
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme},
			{Name: "prefers-reduced-motion", Value: "reduce"}}})
	return err
}

// capture keeps the page as it is: a picture, or what is printed of it.
func capture(ctx context.Context, file, look string) error {
	if paper, _, _ := strings.Cut(look, "-"); paper == "a4" || paper == "letter" {
		b, err := browser.Print(ctx, paper)
		if err != nil {
			return err
		}
		return os.WriteFile(file+".pdf", b, 0o666)
	}
	shot, err := chromedp.Call(ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{OptimizeForSpeed: new(true)})
	if err != nil {
		return err
	}
	if name := filepath.Base(file); small != "" && look == "desktop-light" {
		if err := keepSmall(filepath.Join(small, strings.TrimSuffix(name, "-"+look)+".png"), shot.Data); err != nil {
			return err
		}
	}
	return os.WriteFile(file+".png", shot.Data, 0o666)
}

// settled waits until letters and pictures are there, what moves has come to rest and the page is painted;
// for what stands still by half, at most as long as a look takes. A large design is drawn in slices. What moves as one scrolls never comes to rest.
const settled = `(async () => {
	const rest = (async () => {
		await document.fonts.ready;
		await Promise.all([...document.images].filter((i) => i.loading !== "lazy").map((i) => i.decode().catch(() => {})));
		await Promise.allSettled(document.getAnimations().filter((a) => a.timeline instanceof DocumentTimeline).map((a) => a.finished));
		for (let i = 0; i < 3; i++) await new Promise(requestAnimationFrame);
	})();
	await new Promise((r) => setTimeout(r, 60));
	const flat = [...document.querySelectorAll(".cloth canvas")].filter((c) => c.width && c.getContext("2d")); // the others are drawn at once
	const blank = (c) => { const all = new Uint32Array(c.getContext("2d").getImageData(0, 0, c.width, c.height).data.buffer); return all.every((v) => v === all[0]); };
	const seen = () => flat.map((c) => c.toDataURL()).join();
	for (let was = "", end = performance.now() + 5000; performance.now() < end;) {
		const is = seen();
		if (is === was && !flat.some(blank)) break;
		was = is;
		if (is) await new Promise((r) => setTimeout(r, 200)); // longer than a picture is shifted before it is drawn anew
	}
	await Promise.race([rest, new Promise((r) => setTimeout(r, 700))]);
	return true;
})()`
