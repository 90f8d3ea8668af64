package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/pgtest"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/web"
	"needlepace/web/watch"
)

// What a shop of the study does in a day.
const (
	scaleOrders = 200 // taken in, quoted, agreed, sewn and delivered
	scaleOpen   = 600 // agreed and not sewn yet: three days'
)

// TestStudyScale measures many shops on one PostgreSQL server, with data that it makes.
// NEEDLEPACE_SCALE_STUDY is how many; the table goes into docs/scale.md.
func TestStudyScale(t *testing.T) {
	many, err := strconv.Atoi(os.Getenv("NEEDLEPACE_SCALE_STUDY"))
	if err != nil || many < 2 {
		t.Skip("a study: ./dev study scale [SHOPS]")
	}
	s := &scaled{T: t, server: pgtest.Large(t)}
	s.address = s.server.Database(t)
	if s.db, err = sql.Open("pgx", s.address); err != nil {
		t.Fatal(err)
	}
	defer s.db.Close() //nolint:errcheck // a study
	if s.place, err = store.OpenInstallation(t.Context(), s.address); err != nil {
		t.Fatal(err)
	}
	defer s.place.Close() //nolint:errcheck // a study
	s.say("%d cores, one PostgreSQL (%s, 2 GB of shared buffers, everything on disk when it is acknowledged) and the program on them.", runtime.GOMAXPROCS(0),
		s.text("SHOW server_version"))
	s.say("\n| what | measured |\n|---|---|")
	s.first()
	s.others(many)
	s.year()
	s.catalogue(many)
	s.visited(many)
	s.taken(many)
	busy, _ := os.ReadFile("/proc/loadavg") //nolint:errcheck // where there is one
	s.say("\nLoad average of the whole computer at the end: %s.", bytes.TrimSpace(busy))
	file := filepath.Join("..", "..", "docs", "scale.md")
	doc, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	const from, to = "<!-- scale: from here, by ./dev study scale -->\n", "<!-- scale: to here -->"
	before, rest, ok := strings.Cut(string(doc), from)
	_, after, ok2 := strings.Cut(rest, to)
	if !ok || !ok2 {
		t.Fatalf("%s has no place for the table", file)
	}
	if err := os.WriteFile(file, []byte(before+from+strings.Join(s.lines, "\n")+"\n"+to+after), 0o644); err != nil {
		t.Fatal(err)
	}
}

type scaled struct {
	*testing.T
	server  *pgtest.Server
	address string
	db      *sql.DB
	place   store.Installation
	lines   []string
	open    int // number of an open order of every shop
}

func (s *scaled) say(format string, a ...any) {
	s.lines = append(s.lines, fmt.Sprintf(format, a...))
	fmt.Println(s.lines[len(s.lines)-1])
}

func (s *scaled) row(what, format string, a ...any) {
	s.say("| %s | %s |", what, fmt.Sprintf(format, a...))
}

func (s *scaled) must(err error) {
	s.Helper()
	if err != nil {
		if e := shop.ErrorOf(err); e != nil && e.Err != nil {
			s.Log(e.Err)
		}
		s.Fatal(err)
	}
}

func (s *scaled) text(query string, args ...any) (v string) {
	s.Helper()
	s.must(s.db.QueryRow(query, args...).Scan(&v))
	return v
}

func (s *scaled) number(query string, args ...any) (v float64) {
	s.Helper()
	s.must(s.db.QueryRow(query, args...).Scan(&v))
	return v
}

const sizeOfSchema = `SELECT coalesce(sum(pg_total_relation_size(c.oid)), 0)::float8 FROM pg_class c WHERE c.relkind = 'r' AND c.relnamespace = $1::text::regnamespace`

const sizeOfTrail = `SELECT sum(pg_total_relation_size(('"shop-1".' || t)::regclass))::float8 FROM unnest(ARRAY['trail','changes']) t`

func mb(bytes float64) string { return fmt.Sprintf("%.1f MB", bytes/1e6) }

func milliseconds(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// first is a shop that lived a day of work.
func (s *scaled) first() {
	ctx := s.Context()
	began := time.Now()
	opened, err := s.place.Make(ctx, "shop-1")
	s.must(err)
	made := time.Since(began)
	empty := s.number(sizeOfSchema, `"shop-1"`)
	a := act.New(opened, act.Options{Build: "study"})
	s.must(a.LoadDemo(ctx, func(float64, string) {}))
	s.row("a shop is made", "%.0f ms; empty it has %s", milliseconds(made), mb(empty))
	list, _, err := a.Designs.List(ctx, shop.DesignQuery{Limit: 100})
	s.must(err)
	machines, err := a.Machines.List(ctx)
	s.must(err)
	order := func(i int) book.Order {
		day, err := a.Setups.Zone(ctx)
		s.must(err)
		return book.Order{Customer: fmt.Sprintf("Customer %d", i%70), Due: day.Day(time.Now()).Add(4 + i%8), Weight: 1, Lines: []book.OrderLine{
			{Line: 1, DesignID: list[i%len(list)].ID, Quantity: 6 + i%30}}}
	}
	filled, trail := s.number(sizeOfSchema, `"shop-1"`), s.number(sizeOfTrail)
	began = time.Now()
	var slowest time.Duration
	step := func(do func() error) {
		at := time.Now()
		s.must(do())
		slowest = max(slowest, time.Since(at))
	}
	for i := range scaleOrders {
		var o *book.Order
		step(func() (err error) { o, _, err = a.AddOrder(ctx, order(i), "Ben"); return err })
		step(func() error {
			_, err := a.KeepQuote(ctx, ask.QuoteQuestion{Now: a.Now(), Order: o.ID}, nil, "Ben")
			return err
		})
		step(func() error { _, err := a.Orders.Move(ctx, o.ID, 0, book.Agreed, "", "Ben"); return err })
		for k := range 2 { // two machines' reports
			half := o.Lines[0].Quantity / 2
			if k == 1 {
				half = o.Lines[0].Quantity - half
			}
			step(func() error {
				_, err := a.Record(ctx, book.Report{OrderID: o.ID, Line: 1, MachineID: machines[k].ID, Good: half, Breaks: k, Seconds: float64(60 * half)}, act.Recording{Sure: true}, "Cleo")
				return err
			})
		}
		step(func() error { _, err := a.Orders.Move(ctx, o.ID, 0, book.Delivered, "", "Ben"); return err })
	}
	took := time.Since(began)
	lived := s.number(sizeOfSchema, `"shop-1"`) - filled
	s.row(fmt.Sprintf("%d orders, each taken in, quoted, agreed, reported twice and delivered", scaleOrders), "%.0f ms each by one program, the longest step %.0f ms; %.1f kB each, of which %.1f kB let it be taken back and told",
		milliseconds(took)/scaleOrders, milliseconds(slowest), lived/scaleOrders/1000, (s.number(sizeOfTrail)-trail)/scaleOrders/1000)
	var all []book.Order
	for i := range scaleOpen {
		o := order(i)
		o.State = book.Agreed
		all = append(all, o)
	}
	added, err := a.AddOrders(ctx, all, nil, "Ben")
	s.must(err)
	for _, x := range added {
		s.must(x.Err)
		s.open = x.Order.Number
	}
	began = time.Now()
	_, err = a.MakePlan(ctx, ask.PlanQuestion{Now: a.Now(), NoBound: true}, "Ben")
	s.must(err)
	s.row(fmt.Sprintf("the plan of %d open orders", scaleOpen), "%.1f s", time.Since(began).Seconds())
	s.must(opened.Close())
}

// others are made, and filled with what the first has.
func (s *scaled) others(many int) {
	ctx := s.Context()
	var tables []string
	rows, err := s.db.Query(`SELECT relname FROM pg_class WHERE relnamespace = '"shop-1"'::regnamespace AND relkind = 'r' AND relname NOT LIKE 'goose%' ORDER BY oid`)
	s.must(err)
	for rows.Next() {
		var name string
		s.must(rows.Scan(&name))
		tables = append(tables, name)
	}
	s.must(rows.Err())
	s.onDisk("off") // nothing is measured of it but how long it takes
	defer s.onDisk("on")
	began := time.Now()
	var filling time.Duration
	for i := 2; i <= many; i++ {
		name := fmt.Sprintf("shop-%d", i)
		opened, err := s.place.Make(ctx, name)
		s.must(err)
		s.must(opened.Close())
		at := time.Now()
		var b strings.Builder
		b.WriteString("BEGIN; SET LOCAL session_replication_role = replica;")
		for _, table := range tables {
			fmt.Fprintf(&b, `DELETE FROM %q.%s; INSERT INTO %q.%s OVERRIDING SYSTEM VALUE SELECT * FROM "shop-1".%s;`, name, table, name, table, table)
		}
		fmt.Fprintf(&b, `DO $$ DECLARE q text; BEGIN FOR q IN SELECT format('SELECT setval(%%L, (SELECT coalesce(max(%%I), 0) + 1 FROM %q.%%I), false)',
			pg_get_serial_sequence('%q.' || c.relname, a.attname), a.attname, c.relname) FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
			WHERE a.attidentity <> '' AND c.relkind = 'r' AND c.relnamespace = '%q'::regnamespace AND c.relname NOT LIKE 'goose%%'
			LOOP EXECUTE q; END LOOP; END $$; COMMIT;`, name, name, name)
		_, err = s.db.Exec(b.String())
		s.must(err)
		filling += time.Since(at)
	}
	s.row(fmt.Sprintf("%d shops more are made and filled, without waiting for the disk", many-1), "%.0f ms each, %.0f ms of it their making", milliseconds(time.Since(began))/float64(many-1),
		milliseconds(time.Since(began)-filling)/float64(many-1))
}

// onDisk says whether the server waits for its disk.
func (s *scaled) onDisk(how string) {
	for _, q := range []string{"ALTER SYSTEM SET fsync = " + how, "SELECT pg_reload_conf()", "CHECKPOINT"} {
		_, err := s.db.Exec(q)
		s.must(err)
	}
}

// year is one shop with the orders of 250 days.
func (s *scaled) year() {
	ctx := s.Context()
	opened, err := s.place.Open(ctx, "shop-2")
	s.must(err)
	a := act.New(opened, act.Options{Build: "study"})
	list, _, err := a.Designs.List(ctx, shop.DesignQuery{Limit: 100})
	s.must(err)
	day, err := a.Setups.Zone(ctx)
	s.must(err)
	today := day.Day(time.Now())
	const days = 250
	before := s.number(sizeOfSchema, `"shop-2"`)
	for d := range days {
		var all []book.Order
		for i := range scaleOrders {
			all = append(all, book.Order{Customer: fmt.Sprintf("Customer %d", (d*31+i)%900), Due: today.Add(2), Weight: 1, State: book.Agreed,
				Lines: []book.OrderLine{{Line: 1, DesignID: list[i%len(list)].ID, Quantity: 6 + i%30}}})
		}
		_, err := a.AddOrders(ctx, all, nil, "Ben")
		s.must(err)
	}
	s.must(opened.Close())
	_, err = s.db.Exec(`BEGIN; SET LOCAL session_replication_role = replica;
		UPDATE "shop-2".orders SET state = 'delivered' WHERE number > (SELECT max(number) FROM "shop-1".orders); COMMIT`)
	s.must(err)
	// By itself: within a transaction it would hold locks on all tables of all shops, more than a server has room for.
	_, err = s.db.Exec(`ANALYZE`)
	s.must(err)
	s.row(fmt.Sprintf("one of them with %d days' orders more, delivered", days), "%s more, %.1f kB an order as it was only taken in", mb(s.number(sizeOfSchema, `"shop-2"`)-before),
		(s.number(sizeOfSchema, `"shop-2"`)-before)/1000/days/scaleOrders)
}

func (s *scaled) catalogue(many int) {
	began := time.Now()
	names, err := s.place.Names(s.Context())
	s.must(err)
	listing := time.Since(began)
	if len(names) != many {
		s.Fatalf("%d shops are there", len(names))
	}
	s.row("tables and indexes of one shop", "%.0f and %.0f, with those for long values", s.number(`SELECT count(*)::float8 FROM pg_class WHERE relkind IN ('r','t') AND (relnamespace = '"shop-3"'::regnamespace OR
		oid IN (SELECT reltoastrelid FROM pg_class WHERE relnamespace = '"shop-3"'::regnamespace))`), s.number(`SELECT count(*)::float8 FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid WHERE c.relnamespace = '"shop-3"'::regnamespace OR
		c.oid IN (SELECT reltoastrelid FROM pg_class WHERE relnamespace = '"shop-3"'::regnamespace)`))
	s.row("of all shops", "%.0f; the database's own lists of them have %s", s.number(`SELECT count(*)::float8 FROM pg_class`),
		mb(s.number(`SELECT sum(pg_total_relation_size(oid))::float8 FROM pg_class WHERE relnamespace = 'pg_catalog'::regnamespace AND relkind = 'r'`)))
	s.row("the database on disk", "%.2f GB, %s a shop with one day's orders and %d open ones", s.number(`SELECT pg_database_size(current_database())::float8`)/1e9,
		mb(s.number(sizeOfSchema, `"shop-3"`)), scaleOpen)
	rows, err := s.db.Query(`SELECT relname, pg_total_relation_size(oid)::float8 FROM pg_class WHERE relnamespace = '"shop-2"'::regnamespace AND relkind = 'r' ORDER BY 2 DESC LIMIT 6`)
	s.must(err)
	var largest []string
	for rows.Next() {
		var name string
		var size float64
		s.must(rows.Scan(&name, &size))
		largest = append(largest, fmt.Sprintf("`%s` %s", name, mb(size)))
	}
	s.must(rows.Err())
	s.row("the largest tables of the shop with a year", "%s", strings.Join(largest, ", "))
	s.row("which shops there are is asked", "%.0f ms", milliseconds(listing))
	began = time.Now()
	for _, q := range strings.Split(s.text(`SELECT string_agg(format('VACUUM ANALYZE %I.%I', n.nspname, c.relname), ';') FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace WHERE c.relkind = 'r' AND n.nspname = 'shop-3'`), ";") {
		_, err := s.db.Exec(q)
		s.must(err)
	}
	s.row("one shop's tables are swept (vacuum)", "%.0f ms", milliseconds(time.Since(began)))
	began = time.Now()
	to := filepath.Join(s.TempDir(), "copy.db")
	_, err = store.Backup(s.Context(), s.address+"&search_path=shop-2", to)
	s.must(err)
	at, err := os.Stat(to)
	s.must(err)
	s.row("a copy of the shop with a year (`backup`, read back)", "%.1f s, %s", time.Since(began).Seconds(), mb(float64(at.Size())))
}

// served are all shops under one roof.
func (s *scaled) served() *web.Roof {
	slots, shared := jobs.NewSlots(), act.NewShared()
	return web.NewRoof(web.RoofOptions{Name: "shops.test", Names: s.place.Names, Idle: time.Hour, Now: time.Now, Log: slog.New(slog.DiscardHandler),
		Open: func(ctx context.Context, name string) (*web.Server, func() error, error) {
			opened, err := s.place.Open(ctx, name)
			if err != nil {
				return nil, nil, err
			}
			a := act.New(opened, act.Options{Build: "study", Shared: shared})
			return web.New(a, web.Options{Hosts: []string{name + ".shops.test"}, Slots: slots, Watch: watch.New(built(), time.Hour, time.Now)}), opened.Close, nil
		}})
}

// visited asks each shop for pages: first when it is shut, then when it is open.
func (s *scaled) visited(many int) {
	f := s.served()
	defer f.Close()
	get := func(i int, path string) time.Duration {
		r := httptest.NewRequest("GET", "http://shop-"+strconv.Itoa(i)+".shops.test"+path, nil)
		w, at := httptest.NewRecorder(), time.Now()
		f.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			s.Fatalf("%s of shop %d: status %d, %.200s", path, i, w.Code, w.Body)
		}
		return time.Since(at)
	}
	runtime.GC()
	before, order := memoryOf(os.Getpid()), rand.New(rand.NewPCG(1, 1)).Perm(many)
	pages := []struct{ name, path string }{{"Today", "/today"}, {"Orders", "/orders"}, {"an order", fmt.Sprint("/orders/", s.open)}, {"Designs", "/designs"}, {"the plan", "/plan"}}
	var opening []time.Duration
	for _, i := range order {
		opening = append(opening, get(i+1, pages[0].path))
	}
	s.row("a shop that is shut is asked for Today", "%s", spread(opening))
	open := memoryOf(os.Getpid())
	s.row(fmt.Sprintf("memory with all %d open", many), "the program %.0f kB a shop; PostgreSQL's processes %s together", (open-before)/1000/float64(many), mb(s.postgres()))
	for _, p := range pages {
		s.row(p.name+" of the shop with a year, first and again", "%.0f and %.1f ms", milliseconds(get(2, p.path)), milliseconds(get(2, p.path)))
	}
	s.row("the year's customers are sought by the beginnings of a word", "%.0f ms", milliseconds(get(2, "/find?q=custom+41")))
	for _, p := range pages {
		var first, again []time.Duration
		for _, i := range order[:min(many, 200)] {
			first = append(first, get(i+1, p.path))
		}
		for _, i := range order[:min(many, 200)] {
			again = append(again, get(i+1, p.path))
		}
		s.row(p.name+" of an open shop: the next time, and again unchanged", "%s; %s", spread(first), spread(again))
	}
	perSecond, all := s.crowd(func(dice *rand.Rand) error {
		get(1+dice.IntN(many), pages[dice.IntN(len(pages))].path)
		return nil
	})
	s.row("16 people at once, any page of any shop", "%.0f pages a second, %s", perSecond, spread(all))
}

// crowd is 16 people who do something again and again for 20 s: how often a second, and
// how long each time took.
func (s *scaled) crowd(do func(*rand.Rand) error) (perSecond float64, all []time.Duration) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	began := time.Now()
	for g := range 16 {
		wg.Go(func() {
			dice := rand.New(rand.NewPCG(2, uint64(g)))
			for time.Since(began) < 20*time.Second {
				at := time.Now()
				if err := do(dice); err != nil {
					s.Error(err)
					return
				}
				mu.Lock()
				all = append(all, time.Since(at))
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	return float64(len(all)) / time.Since(began).Seconds(), all
}

// taken counts orders a second that come in at any shop.
func (s *scaled) taken(many int) {
	ctx := s.Context()
	n := min(many, 200)
	var shops []*act.Shop
	shared := act.NewShared()
	for i := range n {
		opened, err := s.place.Open(ctx, fmt.Sprintf("shop-%d", i+1))
		s.must(err)
		defer opened.Close() //nolint:errcheck // a study
		shops = append(shops, act.New(opened, act.Options{Build: "study", Shared: shared}))
	}
	designs, _, err := shops[0].Designs.List(ctx, shop.DesignQuery{Limit: 20})
	s.must(err)
	perSecond, all := s.crowd(func(dice *rand.Rand) error {
		a := shops[dice.IntN(n)]
		zone, err := a.Setups.Zone(ctx)
		if err == nil {
			_, _, err = a.AddOrder(ctx, book.Order{Customer: fmt.Sprintf("Customer %d", dice.IntN(900)), Due: zone.Day(time.Now()).Add(9), Weight: 1,
				Lines: []book.OrderLine{{Line: 1, DesignID: designs[dice.IntN(len(designs))].ID, Quantity: 12}}}, "Ben")
		}
		return err
	})
	s.row(fmt.Sprintf("16 people at once take in orders at any of %d shops", n), "%.0f a second, %s", perSecond, spread(all))
}

func spread(all []time.Duration) string {
	slices.Sort(all)
	at := func(p float64) float64 { return milliseconds(all[int(p*float64(len(all)-1))]) }
	return fmt.Sprintf("%.1f ms in the middle, 99 %% within %.0f ms", at(.5), at(.99))
}

// memoryOf is what a process holds for itself, in bytes: pages that several share count in parts.
func memoryOf(pid int) float64 {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/smaps_rollup", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(b)) {
		var kb float64
		if _, err := fmt.Sscanf(line, "Pss: %f kB", &kb); err == nil {
			return kb * 1024
		}
	}
	return 0
}

// postgres is what the server's processes hold.
func (s *scaled) postgres() (sum float64) {
	all, err := filepath.Glob("/proc/[0-9]*/cwd")
	s.must(err)
	for _, p := range all {
		if to, err := os.Readlink(p); err == nil && strings.HasPrefix(to, s.server.Folder) {
			pid, _ := strconv.Atoi(strings.Split(p, "/")[2]) //nolint:errcheck // a number
			sum += memoryOf(pid)
		}
	}
	return sum
}
