package api_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

// variantOf is a design like another one and yet not the same: stitches of no
// length more at its start.
func variantOf(b []byte, n int) []byte {
	out := append([]byte(nil), b[:512]...)
	for bit := n + 1; bit > 0; bit >>= 1 { // 0.1 mm to and fro for a 1, on the spot for a 0
		if bit&1 == 1 {
			out = append(out, 0x01, 0x00, 0x03, 0x02, 0x00, 0x03)
		} else {
			out = append(out, 0x00, 0x00, 0x03, 0x00, 0x00, 0x03)
		}
	}
	return append(out, b[512:]...)
}

// filled is an app on a shop with machines and n designs.
func filled(t testing.TB, n int) (*webtest.App, []string) {
	a := webtest.New(t, web.Options{})
	for _, c := range []string{"single-15-light", "compact-8", "multi-12"} {
		a.Machine(c, "Bay "+c)
	}
	names := []string{"whale-line.dst", "wheel-badge.dst", "gull-cap.dst", "crew-names.dst"}
	var ids []string
	for k := range n {
		added, err := a.Shop.AddFile(t.Context(), fmt.Sprintf("design %d.dst", k), variantOf(webtest.DemoFile(t, names[k%len(names)]), k))
		if err != nil || added[0].Design == nil {
			t.Fatalf("%+v, %v", added, err)
		}
		ids = append(ids, added[0].Design.ID)
	}
	return a, ids
}

// TestStudyLoad is `./dev study load`: 200 readers and uploads on loopback,
// client and server sharing the machine. It reports and judges nothing.
func TestStudyLoad(t *testing.T) {
	if os.Getenv("NEEDLEPACE_STUDY") != "load" {
		t.Skip("a study: run ./dev study load")
	}
	const readers, uploaders = 200, 4
	a, ids := filled(t, 1000)
	machines, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for at := 0; at < len(ids); at += 100 { // the list has been looked at before
		if _, err := a.Shop.Times(t.Context(), ids[at:at+100], machines); err != nil {
			t.Fatal(err)
		}
	}
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: readers + uploaders, MaxConnsPerHost: readers + uploaders}}
	for _, think := range []time.Duration{time.Second, 0} {
		var mu sync.Mutex
		took := map[string][]time.Duration{}
		failed := map[string]int{}
		note := func(op string, d time.Duration, ok bool) {
			mu.Lock()
			defer mu.Unlock()
			took[op] = append(took[op], d)
			if !ok {
				failed[op]++
			}
		}
		end := time.Now().Add(15 * time.Second)
		var wg sync.WaitGroup
		for r := range readers {
			wg.Go(func() {
				rng := rand.New(rand.NewPCG(uint64(r), 1))
				if think > 0 {
					time.Sleep(time.Duration(rng.Float64() * float64(think)))
				}
				for time.Now().Before(end) {
					id := ids[rng.IntN(len(ids))]
					m := machines[rng.IntN(len(machines))].ID
					op, path := "list of 50 with times", fmt.Sprintf("/designs?times=1&limit=50&offset=%d", 50*rng.IntN(20))
					switch k := rng.IntN(10); {
					case k < 4:
						op, path = "thumb", "/designs/"+id+"/thumb.png"
					case k < 6:
						op, path = "clock", "/designs/"+id+"/clock?machine="+m
					case k < 7:
						op, path = "run.bin", "/designs/"+id+"/run.bin?machine="+m
					case k < 8:
						op, path = "search", "/designs?search=design+"+fmt.Sprint(rng.IntN(1000))
					}
					began := time.Now()
					res, err := client.Get(a.URL + serve.APIRoot + path)
					if err != nil {
						note(op, time.Since(began), false)
						continue
					}
					io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
					res.Body.Close()              //nolint:errcheck // only read
					note(op, time.Since(began), res.StatusCode == 200)
					if think > 0 {
						time.Sleep(time.Duration(rng.ExpFloat64() * float64(think)))
					}
				}
			})
		}
		base := webtest.DemoFile(t, "gull-cap.dst")
		for u := range uploaders {
			wg.Go(func() {
				for n := 0; time.Now().Before(end); n++ {
					var b bytes.Buffer
					w := multipart.NewWriter(&b)
					webtest.AddPart(t, w, "up.dst", variantOf(base, 10_000_000+int(think)+uploaders*n+u))
					w.Close() //nolint:errcheck // a buffer
					began := time.Now()
					res, err := client.Post(a.URL+serve.APIRoot+"/designs", w.FormDataContentType(), &b)
					if err != nil {
						note("upload", time.Since(began), false)
						continue
					}
					io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
					res.Body.Close()              //nolint:errcheck // only read
					note("upload", time.Since(began), res.StatusCode == 201)
					time.Sleep(200 * time.Millisecond)
				}
			})
		}
		wg.Wait()
		var lines []string
		var reads []time.Duration
		line := func(op string, all []time.Duration, bad int) string {
			slices.Sort(all)
			at := func(p float64) time.Duration {
				return all[min(len(all)-1, int(p*float64(len(all))))].Round(100 * time.Microsecond)
			}
			return fmt.Sprintf("| %-22s | %6d | %8v | %8v | %8v | %d |", op, len(all), at(.5), at(.99), all[len(all)-1].Round(100*time.Microsecond), bad)
		}
		bad := 0
		for op, all := range took {
			if op != "upload" {
				reads = append(reads, all...)
				bad += failed[op]
			}
			lines = append(lines, line(op, all, failed[op]))
		}
		slices.Sort(lines)
		busy, _ := os.ReadFile("/proc/loadavg") //nolint:errcheck // where there is one
		fmt.Printf("\n%d readers, mean pause %v, %d uploaders; %d cores, load average of the whole computer %s\n| what | asked | p50 | p99 | longest | failed |\n|---|---|---|---|---|---|\n%s\n%s\n", readers, think, uploaders, runtime.GOMAXPROCS(0), bytes.TrimSpace(busy), strings.Join(lines, "\n"), line("all reads", reads, bad))
		if bad > 0 || failed["upload"] > 0 {
			t.Errorf("requests failed: %v", failed)
		}
	}
}

func BenchmarkDesignListOf5000(b *testing.B) {
	a := webtest.New(b, web.Options{})
	base := webtest.DemoFile(b, "whale-line.dst")
	for _, c := range []string{"single-15-light", "compact-8", "multi-12"} {
		a.Machine(c, c)
	}
	for k := range 5000 {
		if _, err := a.Shop.AddFile(b.Context(), fmt.Sprintf("design %d.dst", k), variantOf(base, k)); err != nil {
			b.Fatal(err)
		}
	}
	for _, path := range []string{"/designs?limit=50", "/designs?limit=50&times=1", "/designs?limit=50&search=design+49", "/designs?limit=50&sort=name&offset=4900"} {
		b.Run(path, func(b *testing.B) {
			for b.Loop() {
				res, err := a.Client.Get(a.URL + serve.APIRoot + path)
				if err != nil {
					b.Fatal(err)
				}
				io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
				res.Body.Close()              //nolint:errcheck // only read
			}
		})
	}
}

func BenchmarkRunBinary(b *testing.B) {
	a := webtest.New(b, web.Options{})
	d := a.DemoDesign("harbour-jacket-back.dst")
	b.SetBytes(int64(d.Stitches))
	for b.Loop() {
		t, err := a.Shop.Trace(b.Context(), d.ID, "compact-8", ask.Job{})
		if err != nil {
			b.Fatal(err)
		}
		api.PackRun(t, 0)
	}
}

func BenchmarkUpload(b *testing.B) {
	a := webtest.New(b, web.Options{})
	base := webtest.DemoFile(b, "gull-cap.dst")
	n := 0
	for b.Loop() {
		n++
		if _, err := a.Shop.AddFile(b.Context(), "x.dst", variantOf(base, n)); err != nil {
			b.Fatal(err)
		}
	}
}
