package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/textproto"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"needlepace/demo"
	"needlepace/shop"
	"needlepace/store/sqlite"
)

// app is an app on a shop of its own, served on loopback.
type app struct {
	t      testing.TB
	shop   *shop.Shop
	server *Server
	http   *httptest.Server
	client *http.Client
	log    *lockedBuffer
}

// lockedBuffer gathers log lines of many goroutines.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func newApp(t testing.TB, opt Options) *app {
	t.Helper()
	store, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	a := &app{t: t, log: &lockedBuffer{}}
	opt.Log = slog.New(slog.NewTextHandler(a.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	a.shop = shop.New(store, shop.Options{Build: "test", HashMemory: 1 << 10})
	a.server = New(a.shop, opt)
	a.http = httptest.NewServer(a.server.Handler())
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	a.client = &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	t.Cleanup(func() {
		a.http.Close()
		a.server.Close()
		if err := store.Close(); err != nil {
			t.Error(err)
		}
	})
	return a
}

// answer is what came back.
type answer struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// send asks; body may be nil, a string, bytes or a value to send as JSON. The
// answer is held against the API's own description.
func (a *app) send(method, path string, body any, header ...string) *answer {
	a.t.Helper()
	var r io.Reader
	contentType := ""
	switch b := body.(type) {
	case nil:
	case string:
		r, contentType = strings.NewReader(b), "application/json"
	case []byte:
		r, contentType = bytes.NewReader(b), "application/octet-stream"
	case io.Reader:
		r = b
	default:
		j, err := json.Marshal(b)
		if err != nil {
			a.t.Fatal(err)
		}
		r, contentType = bytes.NewReader(j), "application/json"
	}
	if strings.HasPrefix(path, "/") && !strings.HasPrefix(path, "/api/") && !strings.HasPrefix(path, "//") {
		path = apiRoot + path
	}
	path = strings.Replace(path, "//", "/", 1)
	req, err := http.NewRequest(method, a.http.URL+path, r)
	if err != nil {
		a.t.Fatal(err)
	}
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := a.client.Do(req)
	if err != nil {
		a.t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		a.t.Fatal(err)
	}
	a.describes(method, req, res, b)
	return &answer{a.t, res.StatusCode, res.Header, b}
}

// ok wants a status.
func (r *answer) ok(status int) *answer {
	r.t.Helper()
	if r.status != status {
		r.t.Fatalf("status %d, want %d: %.600s", r.status, status, r.body)
	}
	return r
}

// fails wants an error of a code with words in its text.
func (r *answer) fails(status int, code shop.Code, words string) {
	r.t.Helper()
	var f failure
	if err := json.Unmarshal(r.body, &f); err != nil || r.status != status || f.Error.Code != string(code) || !strings.Contains(f.Error.Text, words) {
		r.t.Errorf("status %d %.300s; want status %d, code %s, words %q", r.status, r.body, status, code, words)
	}
}

func into[T any](r *answer) (v T) {
	r.t.Helper()
	if err := json.Unmarshal(r.body, &v); err != nil {
		r.t.Fatalf("%v in %.300s", err, r.body)
	}
	return v
}

var compiled struct {
	sync.Mutex
	doc     map[string]any
	schemas map[string]*jsonschema.Schema
	c       *jsonschema.Compiler
}

// schemaAt compiles the schema at a JSON pointer of the description.
func schemaAt(t testing.TB, s *Server, pointer string) *jsonschema.Schema {
	t.Helper()
	compiled.Lock()
	defer compiled.Unlock()
	if compiled.c == nil {
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(s.description()))
		if err != nil {
			t.Fatal(err)
		}
		compiled.doc = doc.(map[string]any)
		compiled.c = jsonschema.NewCompiler()
		compiled.c.AssertFormat()
		if err := compiled.c.AddResource("mem:///openapi.json", doc); err != nil {
			t.Fatal(err)
		}
		compiled.schemas = map[string]*jsonschema.Schema{}
	}
	if sch := compiled.schemas[pointer]; sch != nil {
		return sch
	}
	sch, err := compiled.c.Compile("mem:///openapi.json#" + pointer)
	if err != nil {
		t.Fatalf("schema %s: %v", pointer, err)
	}
	compiled.schemas[pointer] = sch
	return sch
}

func escapePointer(s string) string {
	return strings.NewReplacer("~", "~0", "/", "~1").Replace(s)
}

// seen are the operations that tests have had a good answer from.
var seen sync.Map

// describes checks that an answer is one the description promises.
func (a *app) describes(method string, req *http.Request, res *http.Response, body []byte) {
	a.t.Helper()
	_, pattern := a.server.mux.Handler(req)
	m, path, ok := strings.Cut(pattern, " ")
	if !ok || m != method || !strings.HasPrefix(path, "/api/") && path != "/healthz" {
		return
	}
	schemaAt(a.t, a.server, "/components/schemas/Failure") // loads the description
	op, _ := compiled.doc["paths"].(map[string]any)[path].(map[string]any)[strings.ToLower(m)].(map[string]any)
	if op == nil {
		a.t.Errorf("%s is not described", pattern)
		return
	}
	status := fmt.Sprint(res.StatusCode)
	promised, ok := op["responses"].(map[string]any)[status].(map[string]any)
	if !ok {
		if res.StatusCode < 400 {
			a.t.Errorf("%s: status %s is not described", pattern, status)
			return
		}
		status = "default"
		promised = op["responses"].(map[string]any)[status].(map[string]any)
	}
	if res.StatusCode < 400 {
		seen.Store(pattern, true)
	}
	content, _ := promised["content"].(map[string]any)
	if content == nil {
		if len(body) > 0 {
			a.t.Errorf("%s: a body where none is described: %.100s", pattern, body)
		}
		return
	}
	media, _, _ := strings.Cut(res.Header.Get("Content-Type"), ";")
	if _, ok := content[media]; !ok && media != "application/json" {
		a.t.Errorf("%s: content type %q is not described", pattern, media)
		return
	}
	if res.StatusCode >= 400 && status != "422" {
		status = "default"
	}
	if c, ok := content["application/json"].(map[string]any); !ok || c["schema"] == nil {
		return
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err != nil {
		a.t.Errorf("%s: %v in %.200s", pattern, err, body)
		return
	}
	pointer := "/paths/" + escapePointer(path) + "/" + strings.ToLower(m) + "/responses/" + status + "/content/application~1json/schema"
	if err := schemaAt(a.t, a.server, pointer).Validate(v); err != nil {
		a.t.Errorf("%s answered %.300s, against its description: %v", pattern, body, err)
	}
}

// upload sends files as the page does.
func (a *app) upload(files map[string][]byte) *answer {
	a.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, content := range files {
		addPart(a.t, w, name, content)
	}
	if err := w.Close(); err != nil {
		a.t.Fatal(err)
	}
	return a.send("POST", "/designs", io.Reader(&b), "Content-Type", w.FormDataContentType())
}

func addPart(t testing.TB, w *multipart.Writer, name string, content []byte) {
	t.Helper()
	h := textproto.MIMEHeader{}
	h.Set("Content-Disposition", `form-data; name="file"; filename="`+strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(name)+`"`)
	p, err := w.CreatePart(h)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.Write(content); err != nil {
		t.Fatal(err)
	}
}

func demoFile(t testing.TB, name string) []byte {
	t.Helper()
	d, ok := demo.Find(name)
	if !ok {
		t.Fatalf("the demo has no %s", name)
	}
	b, err := d.Read()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// demoDesign uploads one of the demo's designs.
func (a *app) demoDesign(name string) *shop.Design {
	a.t.Helper()
	added := into[addedPage](a.upload(map[string][]byte{name: demoFile(a.t, name)}))
	if len(added.Added) != 1 || added.Added[0].Design == nil {
		a.t.Fatalf("added %+v", added)
	}
	return added.Added[0].Design
}

func (a *app) machine(class, name string) string {
	a.t.Helper()
	return into[struct{ ID string }](a.send("POST", "/machines", machineNew{Class: class, Name: name}).ok(201)).ID
}

// finish waits for work and holds its result against a schema.
func (a *app) finish(r *answer, schema string) *answer {
	a.t.Helper()
	w := into[Work](r.ok(202))
	for end := time.Now().Add(time.Minute); time.Now().Before(end); {
		r = a.send("GET", "/work/"+w.ID+"?wait=5", nil).ok(200)
		if w = into[Work](r); w.State != Waiting && w.State != Running {
			break
		}
	}
	if w.State != Done {
		a.t.Fatalf("work is %s: %+v", w.State, w.Error)
	}
	if schema != "" {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(r.body))
		if err != nil {
			a.t.Fatal(err)
		}
		if err := schemaAt(a.t, a.server, "/components/schemas/"+schema).Validate(v.(map[string]any)["result"]); err != nil {
			a.t.Errorf("the result against %s: %v", schema, err)
		}
	}
	return r
}

func resultOf[T any](r *answer) (T, Work) {
	r.t.Helper()
	var w struct {
		Work
		Result T `json:"result"`
	}
	if err := json.Unmarshal(r.body, &w); err != nil {
		r.t.Fatal(err)
	}
	return w.Result, w.Work
}

// ctxT is context.Context, short for tests of work.
type ctxT = context.Context
