package web_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/web/webtest"
)

// TestLoad is `./dev load`: readers who turn a page a second, and people who send designs, on
// loopback, client and server sharing the computer. It reports and judges nothing; the table
// takes the place of the one in docs/reliability.md.
func TestLoad(t *testing.T) {
	if os.Getenv("NEEDLEPACE_LOAD") == "" {
		t.Skip("a study: run ./dev load")
	}
	s := busyShop(t, 500, 2000)
	served := httptest.NewServer(s.app.Handler())
	defer served.Close()
	var rows []string
	for _, readers := range []int{20, 200} {
		rows = append(rows, loaded(t, s, served.URL, readers, 4, 60*time.Second)...)
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	busy, _ := os.ReadFile("/proc/loadavg") //nolint:errcheck // where there is one
	table := fmt.Sprintf("%d cores, client and server on them; load average of the whole computer at the end %s; "+
		"%d MB taken from the system.\n\n| readers | page | asked | p50 | p99 | longest | failed |\n|--:|---|--:|--:|--:|--:|--:|\n%s\n",
		runtime.GOMAXPROCS(0), bytes.TrimSpace(busy), m.Sys>>20, strings.Join(rows, "\n"))
	fmt.Print(table)
	intoDoc(t, os.Getenv("NEEDLEPACE_LOAD"), "load: from here, by ./dev load", "load: to here", table)
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

// loaded is what so many readers saw, page by page, as rows of a table.
func loaded(t *testing.T, s *busy, url string, readers, uploaders int, long time.Duration) []string {
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: readers + uploaders}}
	var mu sync.Mutex
	took, failed := map[string][]time.Duration{}, map[string]int{}
	note := func(what string, began time.Time, ok bool) {
		mu.Lock()
		defer mu.Unlock()
		took[what] = append(took[what], time.Since(began))
		if !ok {
			failed[what]++
		}
	}
	ask := func(what string, want int, send func() (*http.Response, error)) {
		began := time.Now()
		res, err := send()
		ok := err == nil && res.StatusCode == want
		if err == nil {
			io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
			res.Body.Close()              //nolint:errcheck // only read
		}
		note(what, began, ok)
	}
	end := time.Now().Add(long)
	kinds := s.kinds()
	var wg sync.WaitGroup
	for r := range readers {
		wg.Go(func() {
			rng := rand.New(rand.NewPCG(uint64(r), 1))
			for time.Now().Before(end) {
				time.Sleep(time.Duration(rng.ExpFloat64() * float64(time.Second)))
				k := kinds[rng.IntN(len(kinds))]
				ask(k.name, http.StatusOK, func() (*http.Response, error) { return client.Get(url + k.at(rng.IntN(10_000))) })
			}
		})
	}
	base := webtest.DemoFile(t, "gull-cap.dst")
	for u := range uploaders {
		wg.Go(func() {
			for n := 0; time.Now().Before(end); n++ {
				var b bytes.Buffer
				w := multipart.NewWriter(&b)
				webtest.AddPart(t, w, "up.dst", slower(base, 1_000_000*readers+uploaders*n+u))
				w.Close() //nolint:errcheck // a buffer
				ask("an upload, of 4 people", http.StatusCreated, func() (*http.Response, error) {
					return client.Post(url+"/api/v1/designs", w.FormDataContentType(), &b)
				})
				time.Sleep(time.Second)
			}
		})
	}
	wg.Wait()
	var rows []string
	var reads []time.Duration
	bad := 0
	row := func(what string, all []time.Duration, bad int) string {
		slices.Sort(all)
		at := func(p float64) time.Duration {
			return all[min(len(all)-1, int(p*float64(len(all))))].Round(time.Millisecond)
		}
		return fmt.Sprintf("| %d | %s | %d | %v | %v | %v | %d |", readers, what, len(all), at(.5), at(.99), at(1), bad)
	}
	for what, all := range took {
		rows = append(rows, row(what, all, failed[what]))
		if what[:2] != "an" {
			reads, bad = append(reads, all...), bad+failed[what]
		}
	}
	slices.Sort(rows)
	return append(rows, row("**all pages**", reads, bad))
}
