package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/pprof"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"needlepace/web"
	"needlepace/web/webtest"
)

// TestLoad is `./dev load`: readers who turn a page a second, and people who send designs, on
// loopback. They are a process of their own that shares the computer with the server, so that what each
// takes is known apart. It reports and judges nothing; the table takes the place of the one in
// docs/reliability.md. NEEDLEPACE_LOAD_FOR is how long each part is (20s; 0s: only what one answer takes),
// NEEDLEPACE_LOAD_PROFILE and NEEDLEPACE_LOAD_HEAP are files for profiles of the server.
func TestLoad(t *testing.T) {
	file := os.Getenv("NEEDLEPACE_LOAD")
	if file == "" {
		t.Skip("a study: run ./dev load")
	}
	long := time.Minute
	if s := os.Getenv("NEEDLEPACE_LOAD_FOR"); s != "" {
		var err error
		if long, err = time.ParseDuration(s); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(t.TempDir(), "shop.db")
	b := openBusy(t, path)
	b.fill(t, 500, 2000)
	work := driving{Uploaders: 4, Long: long, Base: webtest.DemoFile(t, "gull-cap.dst")}
	for _, k := range b.kinds() {
		p := drivenPage{Name: k.name}
		for n := range 10_000 {
			p.At = append(p.At, k.at(n))
			if n > 0 && p.At[n] == p.At[0] {
				p.At = p.At[:n]
				break
			}
		}
		work.Pages = append(work.Pages, p)
	}
	b.shut()
	server := serveLoad(t, &serving{Shop: path, Designs: b.designs, Machines: b.machines, Orders: b.orders})
	fmt.Println(server.Costs)
	if long == 0 {
		return
	}
	work.Server = server.URL
	var rows, costs []string
	most, _ := server.taken(t)
	for _, readers := range []int{20, 200} {
		work.Readers = readers
		done := make(chan struct{})
		watched := make(chan struct{})
		go func() {
			defer close(watched)
			for {
				select {
				case <-done:
					return
				case <-time.After(200 * time.Millisecond):
					now, _ := server.taken(t)
					most = max(most, now)
				}
			}
		}()
		_, before := server.taken(t)
		got, driver := drive(t, &work)
		_, after := server.taken(t)
		took := after - before
		close(done)
		<-watched
		made, all := loadRows(readers, got)
		rows = append(rows, made...)
		costs = append(costs, fmt.Sprintf("%d readers: %.0f pages and uploads a second; the server took %.2f of a core, %.1f ms each; "+
			"those who ask took %.2f of a core, %.2f ms each.", readers, float64(all)/long.Seconds(), took.Seconds()/long.Seconds(),
			1000*took.Seconds()/float64(all), driver.Seconds()/long.Seconds(), 1000*driver.Seconds()/float64(all)))
	}
	busy, _ := os.ReadFile("/proc/loadavg") //nolint:errcheck // where there is one
	table := fmt.Sprintf("%d cores, those who ask and the server on them; load average of the whole computer at the end %s; "+
		"the server had at most %d MB of memory.\n\n%s\n\n%s\n| readers | page | asked | p50 | p99 | longest | failed |\n|--:|---|--:|--:|--:|--:|--:|\n%s\n",
		runtime.GOMAXPROCS(0), bytes.TrimSpace(busy), most>>20, server.Costs, strings.Join(costs, "\n"), strings.Join(rows, "\n"))
	fmt.Print(table)
	intoDoc(t, file, "load: from here, by ./dev load", "load: to here", table)
}

// serving is what the process that serves is told: the shop, and what is in it.
type serving struct {
	Shop                      string
	Designs, Machines, Orders []string
}

// loaded is a process that serves.
type loaded struct {
	URL, Costs string
	pid        int
}

// serveLoad serves a shop in a process of its own, as a server that was started over it, until the test
// ends. Its costs of pages come first.
func serveLoad(t *testing.T, what *serving) *loaded {
	t.Helper()
	in, err := json.Marshal(what)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(context.Background(), os.Args[0], "-test.run", "^TestLoadServes$", "-test.timeout", "0")
	cmd.Env = append(os.Environ(), "NEEDLEPACE_LOAD_SERVES=1")
	cmd.Stderr = os.Stderr
	to, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	from, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		to.Close()                         //nolint:errcheck // which ends it
		io.Copy(io.Discard, from)          //nolint:errcheck // what it says at its end
		if err := cmd.Wait(); err != nil { // profiles are written by now
			t.Error(err)
		}
	})
	if _, err := to.Write(append(in, '\n')); err != nil {
		t.Fatal(err)
	}
	s := &loaded{pid: cmd.Process.Pid}
	if err := json.NewDecoder(from).Decode(s); err != nil {
		t.Fatal(err)
	}
	return s
}

// TestLoadServes is the process that serves.
func TestLoadServes(t *testing.T) {
	if os.Getenv("NEEDLEPACE_LOAD_SERVES") == "" {
		t.Skip("a part of ./dev load")
	}
	var what serving
	told := json.NewDecoder(os.Stdin)
	if err := told.Decode(&what); err != nil {
		t.Fatal(err)
	}
	web.Lean()
	s := openBusy(t, what.Shop)
	s.designs, s.machines, s.orders = what.Designs, what.Machines, what.Orders
	costs := s.pageCosts(t)
	server := httptest.NewServer(s.app.Handler())
	defer server.Close()
	if profile := os.Getenv("NEEDLEPACE_LOAD_PROFILE"); profile != "" {
		f, err := os.Create(profile)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close() //nolint:errcheck // for a look
		if err := pprof.StartCPUProfile(f); err != nil {
			t.Fatal(err)
		}
		defer pprof.StopCPUProfile()
	}
	if err := json.NewEncoder(os.Stdout).Encode(loaded{URL: server.URL, Costs: costs}); err != nil {
		t.Fatal(err)
	}
	told.Decode(&struct{}{}) //nolint:errcheck // waits until nobody is there any more
	if heap := os.Getenv("NEEDLEPACE_LOAD_HEAP"); heap != "" {
		f, err := os.Create(heap)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close() //nolint:errcheck // for a look
		runtime.GC()
		if err := pprof.WriteHeapProfile(f); err != nil {
			t.Fatal(err)
		}
	}
}

// pageCosts is a table of what one answer of each page takes of a core, garbage collected: pages that nobody
// asked for before, the same again, and again each time after a design was uploaded.
func (s *busy) pageCosts(t *testing.T) string {
	t.Helper()
	h := s.app.Handler()
	answer := func(method, at, kind string, body []byte) (size int) {
		r := httptest.NewRequest(method, "http://localhost"+at, bytes.NewReader(body))
		r.Header.Set("Accept-Encoding", "gzip")
		if kind != "" {
			r.Header.Set("Content-Type", kind)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code >= http.StatusBadRequest { // the first page may be another's
			t.Fatalf("%s: %d %.300s", at, w.Code, w.Body)
		}
		return w.Body.Len()
	}
	base, n := webtest.DemoFile(t, "gull-cap.dst"), 0
	upload := func() {
		n++
		kind, body := uploadOf(base, 500_000+n)
		answer(http.MethodPost, "/api/v1/designs", kind, body)
	}
	const most = 30
	took := func(prepare func(), at []string, times int) (mean time.Duration, size int) {
		runtime.GC() // of what was before
		for i := range times {
			prepare()
			began := used(t, syscall.RUSAGE_SELF)
			size += answer(http.MethodGet, at[i%len(at)], "", nil)
			mean += used(t, syscall.RUSAGE_SELF) - began
		}
		return mean / time.Duration(times), size / times
	}
	ms := func(d time.Duration) string { return fmt.Sprintf("%.1f", float64(d.Microseconds())/1000) }
	out := "| page | first time, ms of a core | again | again after an upload | kB, packed |\n|---|--:|--:|--:|--:|\n"
	for _, k := range s.kinds() {
		var at []string
		for i := 0; len(at) < most && i < 10*most; i++ {
			if a := k.at(i * 7); !slices.Contains(at, a) {
				at = append(at, a)
			}
		}
		first, _ := took(func() {}, at, len(at))
		again, size := took(func() {}, at, most)
		after, _ := took(upload, at, most)
		out += fmt.Sprintf("| %s | %s | %s | %s | %.1f |\n", k.name, ms(first), ms(again), ms(after), float64(size)/1000)
	}
	began := used(t, syscall.RUSAGE_SELF)
	for range most {
		upload()
	}
	return out + fmt.Sprintf("| an upload | %s | | | |\n", ms((used(t, syscall.RUSAGE_SELF)-began)/most))
}

// uploadOf is the body of an upload, and its kind.
func uploadOf(base []byte, n int) (kind string, body []byte) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("file", "up.dst")
	if err == nil {
		_, err = part.Write(slower(base, n))
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err) // a buffer takes all
	}
	return w.FormDataContentType(), b.Bytes()
}

// taken is the memory that the process has now, in bytes, and the time of cores that it took so far.
func (s *loaded) taken(t testing.TB) (bytes int, cores time.Duration) {
	t.Helper()
	read := func(name string) string {
		b, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", s.pid, name))
		if err != nil {
			t.Error(err)
		}
		return string(b)
	}
	var all, now int
	if _, err := fmt.Sscan(read("statm"), &all, &now); err != nil {
		t.Error(err)
	}
	// proc(5): fields 14 and 15, in hundredths of a second; the name in field 2 may have spaces.
	_, fields, _ := strings.Cut(read("stat"), ") ")
	at := strings.Fields(fields)
	user, err := strconv.Atoi(at[11])
	system, err2 := strconv.Atoi(at[12])
	if err := errors.Join(err, err2); err != nil {
		t.Error(err)
	}
	return now * os.Getpagesize(), time.Duration(user+system) * 10 * time.Millisecond
}

// used is the time of cores that processes have taken.
func used(t testing.TB, who int) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(who, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// intoDoc puts the table of a study between its two marks of a document.
func intoDoc(t *testing.T, file, from, to, table string) {
	t.Helper()
	doc, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	from, to = "<!-- "+from+" -->\n", "<!-- "+to+" -->"
	before, rest, ok := strings.Cut(string(doc), from)
	_, after, ok2 := strings.Cut(rest, to)
	if !ok || !ok2 {
		t.Fatalf("%s has no place for the table", file)
	}
	if err := os.WriteFile(file, []byte(before+from+table+to+after), 0o644); err != nil {
		t.Fatal(err)
	}
}

// driving is what the process of those who ask is told.
type driving struct {
	Server             string
	Readers, Uploaders int
	Long               time.Duration
	Pages              []drivenPage
	Base               []byte // a .dst that uploads are made from
}

// drivenPage is a kind of page and the addresses of its pages.
type drivenPage struct {
	Name string
	At   []string
}

// driven is what those who ask saw of one kind of page.
type driven struct {
	Took   []time.Duration
	Later  []time.Duration // of them, what was asked for in the second half of the time
	Failed int
}

const uploads = "an upload, of 4 people"

// drive lets another process ask, and says what it saw and what it took of a core.
func drive(t *testing.T, work *driving) (got map[string]*driven, took time.Duration) {
	t.Helper()
	in, err := json.Marshal(work)
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "saw")
	cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run", "^TestLoadAsks$")
	cmd.Env = append(os.Environ(), "NEEDLEPACE_LOAD_TO="+to)
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), os.Stderr
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	return got, cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}

// TestLoadAsks is the process of those who ask.
func TestLoadAsks(t *testing.T) {
	to := os.Getenv("NEEDLEPACE_LOAD_TO")
	if to == "" {
		t.Skip("a part of ./dev load")
	}
	var work driving
	if err := json.NewDecoder(os.Stdin).Decode(&work); err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(work.ask())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// ask turns pages and sends designs, as many people at once.
func (work *driving) ask() map[string]*driven {
	// Pages come packed, as to a browser, and are not unpacked here: that is not the server's.
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: work.Readers + work.Uploaders, DisableCompression: true}}
	half, end := time.Now().Add(work.Long/2), time.Now().Add(work.Long)
	var mu sync.Mutex
	got := map[string]*driven{}
	ask := func(what string, want int, req *http.Request) {
		req.Header.Set("Accept-Encoding", "gzip")
		began := time.Now()
		res, err := client.Do(req)
		ok := err == nil && res.StatusCode == want
		if err == nil {
			io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
			res.Body.Close()              //nolint:errcheck // only read
		}
		took := time.Since(began)
		mu.Lock()
		defer mu.Unlock()
		of := got[what]
		if of == nil {
			of = &driven{}
			got[what] = of
		}
		if of.Took = append(of.Took, took); began.After(half) {
			of.Later = append(of.Later, took)
		}
		if !ok {
			of.Failed++
		}
	}
	var wg sync.WaitGroup
	for r := range work.Readers {
		wg.Go(func() {
			rng := rand.New(rand.NewPCG(uint64(r), 1))
			for {
				time.Sleep(time.Duration(rng.ExpFloat64() * float64(time.Second)))
				if !time.Now().Before(end) {
					return
				}
				p := &work.Pages[rng.IntN(len(work.Pages))]
				req, err := http.NewRequest(http.MethodGet, work.Server+p.At[rng.IntN(len(p.At))], nil)
				if err != nil {
					panic(err) // of a wrong address only
				}
				ask(p.Name, http.StatusOK, req)
			}
		})
	}
	for u := range work.Uploaders {
		wg.Go(func() {
			for n := 0; time.Now().Before(end); n++ {
				kind, body := uploadOf(work.Base, 1_000_000*work.Readers+work.Uploaders*n+u)
				req, err := http.NewRequest(http.MethodPost, work.Server+"/api/v1/designs", bytes.NewReader(body))
				if err != nil {
					panic(err) // of a wrong address only
				}
				req.Header.Set("Content-Type", kind)
				ask(uploads, http.StatusCreated, req)
				time.Sleep(time.Second)
			}
		})
	}
	wg.Wait()
	return got
}

// loadRows are rows of a table of what readers saw, and how often they and the others asked.
func loadRows(readers int, got map[string]*driven) (rows []string, asked int) {
	var all, later driven
	row := func(what string, d *driven) string {
		slices.Sort(d.Took)
		at := func(p float64) time.Duration {
			return d.Took[min(len(d.Took)-1, int(p*float64(len(d.Took))))].Round(time.Millisecond)
		}
		return fmt.Sprintf("| %d | %s | %d | %v | %v | %v | %d |", readers, what, len(d.Took), at(.5), at(.99), at(1), d.Failed)
	}
	for what, d := range got {
		rows = append(rows, row(what, d))
		asked += len(d.Took)
		if what != uploads {
			all.Took, all.Failed = append(all.Took, d.Took...), all.Failed+d.Failed
			later.Took = append(later.Took, d.Later...)
		}
	}
	slices.Sort(rows)
	return append(rows, row("**all pages**", &all), row("all pages, the second half of the time", &later)), asked
}
