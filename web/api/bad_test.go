package api_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

func TestWrongFilesAreToldOfAndTheOthersKept(t *testing.T) {
	a := webtest.New(t, web.Options{})
	gull := webtest.DemoFile(t, "gull-cap.dst")
	var plain bytes.Buffer
	z := zip.NewWriter(&plain)
	for _, f := range []struct{ name, content string }{
		{"../../etc/passwd.dst", string(gull)},
		{`..\..\windows\evil.dst`, string(webtest.DemoFile(t, "whale-line.dst"))},
		{"/absolute.exp", "\x80\x04\x00\x00"},
		{"readme.txt", "not a stitch file"},
	} {
		w, err := z.Create(f.name)
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, f.content) //nolint:errcheck // a buffer
	}
	z.Close() //nolint:errcheck // a buffer
	for _, c := range []struct {
		name    string
		files   map[string][]byte
		status  int
		words   []string // one of the added files says so
		designs int      // kept in all after it
	}{
		{"text", map[string][]byte{"notes.txt": []byte("hello")}, 422, []string{"notes.txt"}, 0},
		{"empty", map[string][]byte{"a.dst": nil}, 422, []string{"a.dst"}, 0},
		{"picture", map[string][]byte{"a.dst": append([]byte("\x89PNG\r\n\x1a\n"), make([]byte, 600)...)}, 422, nil, 0},
		{"zip of nothing", map[string][]byte{"a.zip": []byte("PK\x05\x06" + strings.Repeat("\x00", 18))}, 422, []string{"no stitch file"}, 0},
		{"damaged zip", map[string][]byte{"a.zip": plain.Bytes()[:plain.Len()/2]}, 422, []string{"cannot be opened"}, 0},
		{"paths in a zip", map[string][]byte{"a.zip": plain.Bytes()}, 201, nil, 3},
		{"good and bad", map[string][]byte{"bad.dst": []byte("no"), "crew.dst": webtest.DemoFile(t, "crew-names.dst")}, 201, []string{"bad.dst"}, 4},
		{"script in the name", map[string][]byte{`<script>alert("1")</script>.dst`: webtest.DemoFile(t, "wheel-badge.dst")}, 201, nil, 5},
		{"half a design", map[string][]byte{"half.dst": gull[:len(gull)/2]}, 201, nil, 6},
	} {
		r := a.Upload(c.files).OK(c.status)
		for _, w := range c.words {
			if !strings.Contains(string(r.Body), w) {
				t.Errorf("%s: %q is not in %.400s", c.name, w, r.Body)
			}
		}
		if p := webtest.Into[serve.DesignPage](a.Send("GET", "/designs", nil).OK(200)); p.Total != c.designs {
			t.Errorf("%s: %d designs are kept, want %d", c.name, p.Total, c.designs)
		}
	}
	for _, d := range webtest.Into[serve.DesignPage](a.Send("GET", "/designs", nil)).Designs {
		if strings.ContainsAny(d.File, `/\`) || strings.Contains(d.File, "..") {
			t.Errorf("a path was kept: %q", d.File)
		}
		head := a.Send("GET", "/designs/"+d.ID+"/file", nil).OK(200).Header.Get("Content-Disposition")
		if strings.ContainsAny(head, "<>\r\n") && !strings.Contains(head, `filename="`) || strings.Count(head, `"`) != 2 {
			t.Errorf("a name breaks out of its header: %s", head)
		}
		if d.Name == "half" || d.File == "half.dst" {
			if len(d.Warnings) == 0 {
				t.Error("half a design was taken in without a warning")
			}
		}
	}
	list := a.Send("GET", "/designs", nil)
	if strings.Contains(string(list.Body), "<script>") {
		t.Errorf("a script in a file's name stands unescaped: %s", list.Body)
	}
	if list.Header.Get("Content-Type") != "application/json" || list.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("headers %v", list.Header)
	}
}

func TestBombsAreStopped(t *testing.T) {
	a := webtest.New(t, web.Options{})
	zeros := make([]byte, 1<<20)
	var z bytes.Buffer
	zw := zip.NewWriter(&z)
	for i := range 3 {
		w, err := zw.Create(fmt.Sprintf("bomb-%d.dst", i))
		if err != nil {
			t.Fatal(err)
		}
		for range 40 { // 40 MB each, more than a file may have; 120 MB in some 120 kB
			w.Write(zeros) //nolint:errcheck // a buffer
		}
	}
	zw.Close() //nolint:errcheck // a buffer
	var g bytes.Buffer
	gw := gzip.NewWriter(&g)
	for range 64 {
		gw.Write(zeros) //nolint:errcheck // a buffer
	}
	gw.Close() //nolint:errcheck // a buffer
	var many bytes.Buffer
	mw := zip.NewWriter(&many)
	for i := range 6000 {
		if _, err := mw.Create(fmt.Sprint(i, ".dst")); err != nil {
			t.Fatal(err)
		}
	}
	mw.Close() //nolint:errcheck // a buffer
	for name, bomb := range map[string][]byte{"bomb.zip": z.Bytes(), "bomb.dst.gz": g.Bytes(), "many.zip": many.Bytes()} {
		began := time.Now()
		r := a.Upload(map[string][]byte{name: bomb}).OK(422)
		if took := time.Since(began); took > 20*time.Second {
			t.Errorf("%s took %v", name, took)
		}
		if !strings.Contains(string(r.Body), "more than") && !strings.Contains(string(r.Body), "larger than") && !strings.Contains(string(r.Body), "bytes") {
			t.Errorf("%s: %.300s", name, r.Body)
		}
	}
	if p := webtest.Into[serve.DesignPage](a.Send("GET", "/designs", nil)); p.Total != 0 {
		t.Errorf("%d designs came of bombs", p.Total)
	}
}

// TestADesignOfMoreThanAnybodySewsIsRefused by what it has, however small its file is.
func TestADesignOfMoreThanAnybodySewsIsRefused(t *testing.T) {
	a := webtest.New(t, web.Options{})
	sew, stop := "\x01\x01", "\x80\x01\x00\x00"
	trim := strings.Repeat("\x80\x04\x01\x01", 3) + sew
	for name, c := range map[string]struct{ file, says string }{
		"stops.exp":    {sew + strings.Repeat(stop+sew, 999), ""},
		"toomany.exp":  {sew + strings.Repeat(stop+sew, 1000), "1000 colour stops, more than the 999"},
		"trims.exp":    {sew + strings.Repeat(trim, 10_001), "10001 trims and stops, more than the 10000"},
		"stitches.exp": {strings.Repeat(sew, 5_000_001), "5000001 stitches, more than the 5000000"},
	} {
		r := a.Upload(map[string][]byte{name: []byte(c.file)})
		if c.says == "" {
			r.OK(201)
		} else if !strings.Contains(string(r.OK(422).Body), c.says) {
			t.Errorf("%s: %.300s", name, r.Body)
		}
	}
}

// TestAnUploadThatTakesTooLongSaysWhatItTookIn and can be sent again.
func TestAnUploadThatTakesTooLongSaysWhatItTookIn(t *testing.T) {
	a := webtest.New(t, web.Options{WorkTime: 1500 * time.Millisecond})
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := range 5000 {
		w, err := z.Create(fmt.Sprintf("%d.exp", i))
		if err == nil {
			_, err = w.Write(bytes.Repeat([]byte{1 + byte(i%100), 1 + byte(i/100)}, 50))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	got := webtest.Into[api.AddedPage](a.Upload(map[string][]byte{"all.zip": b.Bytes()}).OK(201))
	last := got.Added[len(got.Added)-1]
	if last.Code != shop.Stopped || !strings.Contains(last.Error, "send it again for the rest") || len(got.Added) < 2 {
		t.Fatalf("%d told of, the last %+v", len(got.Added), last)
	}
	if p := webtest.Into[serve.DesignPage](a.Send("GET", "/designs", nil)); p.Total < len(got.Added)-1 || p.Total > len(got.Added) {
		t.Errorf("%d designs are there, %d told of", p.Total, len(got.Added)-1)
	}
}

func TestHugeAndCutOffUploads(t *testing.T) {
	a := webtest.New(t, web.Options{MaxUpload: 1 << 20})
	a.Upload(map[string][]byte{"big.dst": make([]byte, 2<<20)}).Fails(413, shop.TooLarge, "1 MB")
	a.Send("POST", "/designs", io.Reader(strings.NewReader("x")), "Content-Type", "text/plain").Fails(415, shop.Unsupported, "multipart/form-data")
	a.Send("POST", "/designs", io.Reader(strings.NewReader("x")), "Content-Type", "multipart/form-data").Fails(400, "bad_request", "cannot be read")
	a.Send("POST", "/designs", io.Reader(strings.NewReader("--b--\r\n")), "Content-Type", "multipart/form-data; boundary=b").Fails(400, "bad_request", "no part named file")

	// A first whole file, then the connection breaks in the second.
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	webtest.AddPart(t, w, "first.dst", webtest.DemoFile(t, "whale-line.dst"))
	webtest.AddPart(t, w, "second.dst", webtest.DemoFile(t, "gull-cap.dst"))
	w.Close() //nolint:errcheck // a buffer
	cut := b.Len() - len(webtest.DemoFile(t, "gull-cap.dst"))/2
	a.Send("POST", "/designs", io.Reader(bytes.NewReader(b.Bytes()[:cut])), "Content-Type", w.FormDataContentType()).Fails(400, "bad_request", "after 1 kept")
	conn, err := net.Dial("tcp", strings.TrimPrefix(a.URL, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(conn, "POST /api/v1/designs HTTP/1.1\r\nHost: localhost\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n", w.FormDataContentType(), b.Len())
	conn.Write(b.Bytes()[:cut]) //nolint:errcheck // it is to break
	conn.Close()                //nolint:errcheck // it is to break
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end) && strings.Count(a.Log.String(), "status=400") < 2; {
		time.Sleep(5 * time.Millisecond)
	}
	p := webtest.Into[serve.DesignPage](a.Send("GET", "/designs", nil).OK(200))
	if p.Total != 1 || p.Designs[0].File != "first.dst" {
		t.Errorf("after cut-off uploads: %d designs", p.Total)
	}
	files, err := filepath.Glob(os.TempDir() + "/multipart-*")
	if err != nil || len(files) > 0 {
		t.Errorf("left behind: %v, %v", files, err)
	}
}

// Every operation with bad bodies, and with IDs of things that are not there.
func TestBadInputIsAnsweredInOneForm(t *testing.T) {
	a := webtest.New(t, web.Options{})
	d := a.DemoDesign("whale-line.dst")
	m := a.Machine("compact-8", "Bay 1")
	bodies := []struct {
		name, body string
		status     int
	}{
		{"nothing", ``, 400}, {"no JSON", `{"`, 400}, {"a list", `[1]`, 400}, {"unknown key", `{"nonsense": 1}`, 400},
		{"two values", `{} {}`, 400}, {"a number too large", `{"seed": 1e400}`, 400}, {"deep", strings.Repeat(`[`, 200_000), 400},
		{"not UTF-8", "{\"name\": \"\xff\xfe\"}", 400},
		{"too long", `{"x":"` + strings.Repeat("y", api.MaxJSON) + `"}`, 413},
	}
	put := strings.NewReplacer("{design}", d.ID, "{machine}", m, "{timing}", "timing-99", "{setup}", "x", "{account}", "x", "{run}", "x", "{work}", "x", "{file}", "x", "{class}", "x", "{evidence}", "x", "{order}", "1", "{quote}", "x", "{recording}", "x")
	none := strings.NewReplacer("{design}", strings.Repeat("0", 32), "{machine}", "nothing", "{timing}", "nothing9", "{setup}", "nothing", "{account}", "nothing", "{run}", "nothing", "{work}", "nothing", "{file}", "x", "{class}", "nothing", "{evidence}", "nothing", "{order}", "nothing", "{quote}", "nothing", "{recording}", "nothing", "{visit}", "nothing", "{trial}", "nothing", "{call}", "nothing")
	good := map[string]string{ // bodies that are right but for the ID in the address
		"describeDesign": `{"name":"x","customer":"","note":"","threads":[]}`, "changeSheet": `{"base":1,"toml":"x"}`, "undoSheet": `{"base":1}`,
		"addRuns": `{"runs":[{"design":"` + d.ID + `","set_speed":800,"seconds":60}]}`, "learn": `{"keep":false}`, "makeTestPiece": `{"hoop_x":100,"hoop_y":100}`,
		"audit": `{"machine":"compact-8"}`, "mend": `{"machine":"compact-8"}`, "changeSetup": `{"kind":"mix","name":"x","toml":"x","base":1}`,
		"changeAccount": `{"role":"planner"}`, "startFromClass": `{"class":"x"}`,
		"changeOrder": `{"customer":"x","base":1,"lines":[]}`, "moveOrder": `{"to":"agreed"}`, "recordPieces": `{"line":1,"machine":"x","good":1}`, "startLine": `{"line":1,"machine":"x"}`,
		"garmentsCame":  `{"line":1,"due":"2026-03-09"}`,
		"correctReport": `{"line":1,"machine":"x","good":1}`, "takeBackReport": `{}`, "deliverPieces": `{"line":1}`, "takeBackDelivery": `{}`,
		"holdLine": `{"line":1,"machine":"x"}`, "releaseLine": `{"line":1}`, "renameList": `{"name":"x"}`, "makeQuote": `{}`, "hear": `{}`,
		"roughCame": `{"rough":1}`, "changeVisit": `{"name":"x","base":1}`, "putVisitFile": "x", "keepTrial": `{"toml":"name = \"Bay\""}`, "takeReturn": "x",
		"keepCall": `{"toml":"name = \"Bay\""}`, "takeEntries": "x", "openCallPage": `{"most":9}`,
	}
	for _, rt := range api.Operations() {
		path := rt.Path
		if rt.In != nil && rt.InType == "" {
			for _, b := range bodies {
				r := a.Send(rt.Method, put.Replace(path), b.body)
				var f serve.Failure
				if r.Status != b.status {
					t.Errorf("%s with %s: status %d, want %d: %.200s", rt.Name, b.name, r.Status, b.status, r.Body)
				} else if f = webtest.Into[serve.Failure](r); f.Error.Code == "" || f.Error.Text == "" {
					t.Errorf("%s with %s: %.200s", rt.Name, b.name, r.Body)
				}
			}
			a.Send(rt.Method, put.Replace(path), io.Reader(strings.NewReader("{}")), "Content-Type", "text/plain").Fails(415, shop.Unsupported, "application/json")
		}
		if !strings.Contains(path, "{") || rt.Name == "saveTiming" || rt.Name == "importRuns" || rt.Name == "sendSound" {
			continue
		}
		var body any
		if rt.In != nil || rt.InType != "" {
			if good[rt.Name] == "" {
				t.Errorf("no body to ask %s with", rt.Name)
				continue
			}
			body = good[rt.Name]
		}
		at := none.Replace(path)
		if strings.Contains(path, "/clock") || strings.Contains(path, "/run.") || strings.Contains(path, "/rests") {
			at += "?machine=compact-8"
		}
		if rt.Name == "changeSheet" || rt.Name == "changeSetup" {
			continue // what they are sent is checked first
		}
		if r := a.Send(rt.Method, at, body); r.Status != 404 {
			t.Errorf("%s %s of what is not there: status %d, %.200s", rt.Method, at, r.Status, r.Body)
		}
	}
}

// TestBadJSONIsSaidInItsOwnTerms: where it is, what is there and what is wanted, and nothing of the
// program's insides.
func TestBadJSONIsSaidInItsOwnTerms(t *testing.T) {
	a := webtest.New(t, web.Options{})
	at := "/designs/" + a.DemoDesign("whale-line.dst").ID + "/mend"
	for body, words := range map[string]string{
		`{"machine": 7}`: "machine is of kind number (byte 13); a text is wanted", `{"seconds": "5"}`: "seconds is of kind string (byte 15); a number is wanted",
		`{"release": 3}`: "release is of kind number (byte 13); a list is wanted", `{"release": [1.5]}`: "release is of kind number 1.5 (byte 16); a whole number is wanted",
		`{"keep": "yes"}`: "keep is of kind string (byte 14); true or false is wanted", `[1]`: "it is of kind array (byte 1); an object is wanted",
		`{"lid": 1}`: `unknown field "lid"`, "{\n\"keep\": nay}": "line 2, byte 12: ", `{"keep"`: "it ends early", ``: "it ends early",
	} {
		f := webtest.Into[serve.Failure](a.Send("POST", at, body))
		if !strings.Contains(f.Error.Text, "wanted here: "+words) || strings.Contains(f.Error.Text, "Go ") || strings.Contains(f.Error.Text, "json:") {
			t.Errorf("%s: %q, want %q", body, f.Error.Text, words)
		}
	}
}

func TestValuesOutOfRangeAreNamed(t *testing.T) {
	a := webtest.New(t, web.Options{})
	d := a.DemoDesign("whale-line.dst").ID
	m := a.Machine("compact-8", "Bay 1")
	big := strings.Repeat("x", 300)
	for _, c := range []struct {
		method, path, body string
		words              string
	}{
		{"GET", "/designs?limit=0x", "", "limit"}, {"GET", "/designs?limit=501", "", "between 1 and 500"}, {"GET", "/designs?offset=-1", "", "offset"},
		{"GET", "/designs?sort=colour", "", "sort"}, {"GET", "/designs?times=maybe", "", "times"}, {"GET", "/designs?search=" + big, "", "search"},
		{"GET", "/designs/" + d + "/clock", "", "machine is missing"}, {"GET", "/designs/" + d + "/clock?machine=compact-8&speed=NaN", "", "speed"},
		{"GET", "/designs/" + d + "/clock?machine=compact-8&speed=99999", "", "outside 10 to 3000"}, {"GET", "/designs/" + d + "/clock?machine=compact-8&heavy=-1", "", "acceleration factor"},
		{"GET", "/designs/" + d + "/clock?machine=compact-8&needles=1,x", "", "needles"}, {"GET", "/designs/" + d + "/clock?machine=compact-8&needles=0", "", "needle 0"},
		{"GET", "/designs/" + d + "/run.svg?machine=compact-8&theme=neon", "", "theme"}, {"GET", "/designs/" + d + "/thumb.png?theme=print", "", "theme"},
		{"PUT", "/designs/" + d, `{"name":"","customer":"","note":"","threads":[]}`, "name is missing"}, {"PUT", "/designs/" + d, `{"name":"` + big + `"}`, "at most 200"},
		{"PUT", "/designs/" + d, `{"name":"a\u0000b"}`, "control character"}, {"PUT", "/designs/" + d, `{"name":"x","threads":[{"name":"y","colour":"red"}]}`, "#rrggbb"},
		{"POST", "/machines", `{"class":"no such"}`, "no machine class"}, {"POST", "/machines", `{"class":"compact-8","toml":"x"}`, "not both"}, {"POST", "/machines", `{}`, "no machine class"},
		{"POST", "/machines", `{"toml":"name = \"x\"\nmax_speed = 9e9"}`, "max_speed"}, {"PUT", "/machines/" + m, `{"base":1,"toml":"nonsense = 1"}`, "nonsense"},
		{"POST", "/machines/" + m + "/undo", `{"base":1}`, "nothing to undo"}, {"POST", "/machines/" + m + "/runs", `{"runs":[]}`, "no runs"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"design":"` + d + `","set_speed":800,"seconds":-4}]}`, "run 1: seconds"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"design":"` + d + `","set_speed":800,"seconds":60,"block":9}]}`, "colour blocks"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"design":"` + d + `","set_speed":8,"seconds":60}]}`, "set_speed"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"set_speed":800,"seconds":60}]}`, "design is missing"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"set_speed":800,"shown_speed":700,"length_mm":99}]}`, "length_mm"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"set_speed":800,"shown_speed":700,"length_mm":3,"needles":"1 2"}]}`, "no seconds, design, block or needles"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"set_speed":800,"shown_speed":700,"length_mm":3,"with":"after"}]}`, "no seconds, design, block or needles"},
		{"POST", "/machines/" + m + "/runs", `{"runs":[{"design":"` + d + `","set_speed":800,"seconds":60,"date":"yesterday"}]}`, "is no day; write it as 2026-03-20"},
		// Long work: what is wrong with the question is told at once, and no work is made.
		{"POST", "/machines/" + m + "/learn", `{"keep":true}`, "Bay 1 has no timed runs yet"},
		{"POST", "/floor", `{"toml":"[shift]\nhours=8","precision":7}`, "7"},
		{"POST", "/floor", `{"toml":"[shift]\nhours = 99"}`, "shift"},
		{"POST", "/compare", `{"toml":"[week]\nshifts=5","weeks":3}`, "3 weeks"},
		{"POST", "/compare", `{"toml":"[week]\nshifts = 5"}`, "week.hours"},
		{"POST", "/designs/" + d + "/mend", `{"machine":"compact-8","seconds":5000}`, "5000"},
		{"POST", "/plan", `{"freeze_hours":-1}`, "0 or more"},
		{"POST", "/plan/try", `{}`, "nothing is asked"},
		{"POST", "/plan/fleet", `{"heads_of":"` + m + `","heads":-3}`, "−3 heads"},
		{"POST", "/plan/fleet", `{"shift":"on and on"}`, "cannot be read"},
		{"POST", "/plan/try", `{"down":[{"machine":"` + m + `","from":"not a day","to":"2026-03-04 07:00"}]}`, "not a day"},
		{"PUT", "/timings/short", `{"machine":"` + m + `","design":"` + d + `","set_speed":800,"started":"2026-01-01T00:00:00Z","marks":[],"rev":1}`, "8 to 64"},
		{"PUT", "/timings/timing-1", `{"machine":"` + m + `","design":"` + d + `","set_speed":800,"started":"noon","marks":[],"rev":1}`, "started"},
		{"PUT", "/timings/timing-1", `{"machine":"` + m + `","design":"` + d + `","set_speed":800,"started":"2026-01-01T00:00:00Z","marks":[{"kind":"stop","at_ms":0}],"rev":1}`, "press 1"},
		{"PUT", "/timings/timing-1", `{"machine":"` + m + `","design":"` + d + `","set_speed":800,"started":"2026-01-01T00:00:00Z","marks":[{"kind":"start","at_ms":9},{"kind":"end","at_ms":3}],"rev":1}`, "order of time"},
		{"PUT", "/settings", `{"length":"furlong"}`, "mm or inch"}, {"PUT", "/settings", `{"currency":"euro"}`, "EUR"},
		{"POST", "/setups", `{"kind":"floor","name":"x","toml":"nonsense = 1"}`, "nonsense"}, {"POST", "/setups", `{"kind":"barn","name":"x","toml":""}`, "floor or mix"},
		{"POST", "/lists", `{"of":"barns","name":"x"}`, "designs or orders"}, {"POST", "/lists", `{"of":"orders","name":" "}`, "name is missing"},
		{"POST", "/lists", `{"of":"orders","name":"x","query":"page=3"}`, "page"}, {"GET", "/designs?state=lost", "", "ordered"},
		{"POST", "/floor", `{}`, "setup or toml"}, {"POST", "/floor", `{"toml":"[shift]\nhours=8\n[[machine]]\nname='a'\nsheet='none'\n[[job]]\nname='j'\ndesign='whale-line.dst'\n[[operator]]\nname='o'"}`, "none"},
		{"POST", "/designs/" + d + "/audit", `{}`, "machine is missing"}, {"POST", "/designs/" + d + "/audit", `{"machine":"compact-8","speed":3}`, "outside"},
		{"POST", "/accounts", `{"name":"Ben","role":"planner","password":"long enough x"}`, "first account"}, {"POST", "/accounts", `{"name":"Ada","role":"owner","password":"short"}`, "10 to 512"},
		{"POST", "/accounts", `{"name":"Ada","role":"king","password":"long enough x"}`, "owner, planner or operator"}, {"POST", "/session", `{"name":"x","password":"y"}`, "nobody needs"},
		{"GET", "/work/x?wait=soon", "", "wait"}, {"GET", "/timings?open=perhaps", "", "open"}, {"GET", "/setups?kind=barn", "", "floor or mix"},
	} {
		var body any
		if c.body != "" {
			body = c.body
		}
		r := a.Send(c.method, c.path, body)
		f := webtest.Into[serve.Failure](r)
		if r.Status != 422 || f.Error.Code != string(shop.Invalid) || !strings.Contains(f.Error.Text, c.words) {
			t.Errorf("%s %s %s: status %d, %.300s; want 422 with %q", c.method, c.path, c.body, r.Status, r.Body, c.words)
		}
	}
	a.Send("GET", "/designs?search=%zz", nil).Fails(400, "bad_request", "query")
	a.Send("PATCH", "/designs", nil).Fails(405, shop.Invalid, "GET or POST")
	a.Send("GET", "/api/v2/designs", nil).Fails(404, shop.NotFound, "openapi.json")
	a.Send("GET", "/designs/"+d+"/clock?machine=nothing", nil).Fails(404, shop.NotFound, "machine")
	a.Send("PUT", "/timings/timing-1", `{"machine":"nothing","design":"`+d+`","set_speed":800,"started":"2026-01-01T00:00:00Z","marks":[],"rev":1}`).Fails(404, shop.NotFound, "")
}

func TestRunsFromAFileSayRowAndColumn(t *testing.T) {
	a := webtest.New(t, web.Options{})
	m := a.Machine("compact-8", "Bay 1")
	send := func(body string) *webtest.Answer {
		return a.Send("POST", "/machines/"+m+"/runs.csv", io.Reader(strings.NewReader(body)), "Content-Type", "text/csv")
	}
	send("design,set_speed,seconds\nnot-there.dst,800,61\n").Fails(422, shop.Invalid, "row 2")
	send("design,set_speed,colour\nx,800,61\n").Fails(422, shop.Invalid, "colour")
	send("").Fails(422, shop.Invalid, "")
	a.Send("POST", "/machines/nothing/runs.csv", io.Reader(strings.NewReader("set_speed,shown_speed,length_mm,stitch\n800,700,3,straight\n")), "Content-Type", "text/csv").Fails(404, shop.NotFound, "machine")
	a.Send("POST", "/machines/"+m+"/runs.csv", `{}`).Fails(415, shop.Unsupported, "text/csv")
}

func TestAFolderOfFormatsIsTakenInWhole(t *testing.T) {
	dir := filepath.Join("..", "..", "..", "shared", "data", "real")
	var files []string
	for _, f := range stitchfile.Formats() {
		for _, ext := range f.Extensions {
			found, err := filepath.Glob(filepath.Join(dir, "*", "*"+ext))
			if err != nil {
				t.Fatal(err)
			}
			flat, _ := filepath.Glob(filepath.Join(dir, "*"+ext))
			files = append(append(files, found...), flat...)
		}
	}
	if len(files) == 0 {
		t.Skip("no real stitch files beside the project: nothing to take in")
	}
	a := webtest.New(t, web.Options{})
	send := map[string][]byte{}
	for _, f := range files[:min(len(files), 30)] {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		send[filepath.Base(f)] = b
	}
	added := webtest.Into[api.AddedPage](a.Upload(send).OK(http.StatusCreated))
	for _, x := range added.Added {
		if x.Design == nil {
			t.Errorf("%s: %s", x.File, x.Error)
		}
	}
	t.Logf("%d real designs taken in", len(added.Added))
}

// What an address cannot be asked is refused by its name, and what was meant is named: passed over, a list would not be
// of what was asked for.
func TestAQueryThatNothingKnowsIsRefused(t *testing.T) {
	a := webtest.New(t, web.Options{})
	for _, c := range []struct{ at, says string }{
		{"/designs?serach=gull", `"serach" is nothing that this address can be asked; did you mean search?`},
		{"/orders?search=gull&sate=open", "did you mean state?"},
		{"/settings?limit=3", "leave it out"},
		{"/changes?page=2", "it has "},
	} {
		a.Send("GET", c.at, nil).Fails(422, shop.Invalid, c.says)
	}
	a.Send("GET", "/designs?search=gull", nil).OK(200)
}
