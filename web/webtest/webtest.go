// Package webtest serves an app on a shop of its own, for tests: it asks it over
// HTTP and holds every answer of the API against the API's own description.
package webtest

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/textproto"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"needlepace/act"
	"needlepace/demo"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/shop/designs"
	"needlepace/store/storetest"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/door"
	"needlepace/web/serve"
)

// App is an app on a shop of its own, served on loopback.
type App struct {
	T      testing.TB
	Shop   *act.Shop
	Server *web.Server
	URL    string
	Client *http.Client // keeps cookies, follows no redirect
	Log    *Log
}

// Log gathers log lines of many goroutines.
type Log struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *Log) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *Log) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// New serves an empty shop until the test is over.
func New(t testing.TB, opt web.Options) *App {
	t.Helper()
	return Open(t, filepath.Join(t.TempDir(), "shop.db"), opt)
}

// Open serves the shop in a file until the test is over.
func Open(t testing.TB, file string, opt web.Options) *App {
	t.Helper()
	store := storetest.Open(t, file)
	a := &App{T: t, Log: &Log{}}
	opt.Log = slog.New(slog.NewTextHandler(a.Log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	a.Shop = act.New(store, act.Options{Build: "test", HashMemory: 1 << 10, Now: opt.Now})
	a.Server = web.New(a.Shop, opt)
	served := httptest.NewServer(a.Server.Handler())
	a.URL = served.URL
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	a.Client = &http.Client{Jar: jar, CheckRedirect: func(*http.Request,
		[]*http.Request) error {
		return http.ErrUseLastResponse
	}}
	t.Cleanup(func() {
		a.Server.EndEvents()
		served.Close()
		a.Server.Close()
		if err := store.Close(); err != nil {
			t.Error(err)
		}
	})
	return a
}

// Phone is a phone that trusts the shop and comes by the app's door, which is
// opened: its cookies are its own.
func (a *App) Phone(d *door.Door) *App {
	a.T.Helper()
	if err := d.Open(); err != nil {
		a.T.Fatal(err)
	}
	authority, err := d.Authority()
	if err != nil {
		a.T.Fatal(err)
	}
	trusted := x509.NewCertPool()
	trusted.AddCert(authority.Cert)
	jar, err := cookiejar.New(nil)
	if err != nil {
		a.T.Fatal(err)
	}
	b := *a
	b.URL = d.Origin("https", "127.0.0.1")
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trusted}}
	b.Client = &http.Client{Jar: jar, CheckRedirect: a.Client.CheckRedirect, Transport: transport}
	a.T.Cleanup(transport.CloseIdleConnections)
	return &b
}

// Door is a door of a new shop on loopback, still shut.
func Door(t testing.TB) *door.Door {
	return door.New(door.Options{File: filepath.Join(t.TempDir(), "authority.pem"), Address: "127.0.0.1:0"})
}

// Answer is what came back.
type Answer struct {
	T      testing.TB
	Status int
	Header http.Header
	Body   []byte
}

// Send asks; body may be nil, a string, bytes or a value to send as JSON. The
// Answer is held against the API's own description.
func (a *App) Send(method, path string, body any, header ...string) *Answer {
	a.T.Helper()
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
			a.T.Fatal(err)
		}
		r, contentType = bytes.NewReader(j), "application/json"
	}
	if strings.HasPrefix(path, "/") && !strings.HasPrefix(path, "/api/") && !strings.HasPrefix(path, "//") {
		path = serve.APIRoot + path
	}
	path = strings.Replace(path, "//", "/", 1)
	req, err := http.NewRequest(method, a.URL+path, r)
	if err != nil {
		a.T.Fatal(err)
	}
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := a.Client.Do(req)
	if err != nil {
		a.T.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		a.T.Fatal(err)
	}
	a.describes(method, req, res, b)
	return &Answer{a.T, res.StatusCode, res.Header, b}
}

// OK wants a status.
func (r *Answer) OK(status int) *Answer {
	r.T.Helper()
	if r.Status != status {
		r.T.Fatalf("status %d, want %d: %.600s", r.Status, status, r.Body)
	}
	return r
}

// Fails wants an error of a code with words in its text.
func (r *Answer) Fails(status int, code shop.Code, words string) {
	r.T.Helper()
	var f serve.Failure
	if err := json.Unmarshal(r.Body, &f); err != nil || r.Status != status || f.Error.Code != string(code) ||
		!strings.Contains(f.Error.Text, words) {
		r.T.Errorf("status %d %.300s; want status %d, code %s, words %q", r.Status, r.Body, status, code, words)
	}
}

func Into[T any](r *Answer) (v T) {
	r.T.Helper()
	if err := json.Unmarshal(r.Body, &v); err != nil {
		r.T.Fatalf("%v in %.300s", err, r.Body)
	}
	return v
}

var compiled struct {
	sync.Mutex
	doc     map[string]any
	schemas map[string]*jsonschema.Schema
	c       *jsonschema.Compiler
}

// SchemaAt compiles the schema at a JSON pointer of the description.
func SchemaAt(t testing.TB, pointer string) *jsonschema.Schema {
	t.Helper()
	compiled.Lock()
	defer compiled.Unlock()
	if compiled.c == nil {
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(api.Description()))
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

// Seen are the operations that tests have had a good answer from.
var Seen sync.Map

// describes checks that an answer is one the description promises.
func (a *App) describes(method string, req *http.Request, res *http.Response, body []byte) {
	a.T.Helper()
	pattern := a.Server.Match(req)
	m, path, ok := strings.Cut(pattern, " ")
	if !ok || m != method || !strings.HasPrefix(path, "/api/") && path != "/healthz" {
		return
	}
	SchemaAt(a.T, "/components/schemas/Failure") // loads the description
	op, _ := compiled.doc["paths"].(map[string]any)[path].(map[string]any)[strings.ToLower(m)].(map[string]any)
	if op == nil {
		a.T.Errorf("%s is not described", pattern)
		return
	}
	status := fmt.Sprint(res.StatusCode)
	promised, ok := op["responses"].(map[string]any)[status].(map[string]any)
	if !ok {
		if res.StatusCode < 400 {
			a.T.Errorf("%s: status %s is not described", pattern, status)
			return
		}
		status = "default"
		promised = op["responses"].(map[string]any)[status].(map[string]any)
	}
	if res.StatusCode < 400 {
		Seen.Store(pattern, true)
	}
	content, _ := promised["content"].(map[string]any)
	if content == nil {
		if len(body) > 0 {
			a.T.Errorf("%s: a body where none is described: %.100s", pattern, body)
		}
		return
	}
	media, _, _ := strings.Cut(res.Header.Get("Content-Type"), ";")
	if _, ok := content[media]; !ok && media != "application/json" {
		a.T.Errorf("%s: content type %q is not described", pattern, media)
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
		a.T.Errorf("%s: %v in %.200s", pattern, err, body)
		return
	}
	pointer := "/paths/" + escapePointer(path) + "/" + strings.ToLower(m) + "/responses/" + status +
		"/content/application~1json/schema"
	if err := SchemaAt(a.T, pointer).Validate(v); err != nil {
		a.T.Errorf("%s answered %.300s, against its description: %v", pattern, body, err)
	}
}

// Upload sends files as the page does.
func (a *App) Upload(files map[string][]byte) *Answer {
	a.T.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, content := range files {
		AddPart(a.T, w, name, content)
	}
	if err := w.Close(); err != nil {
		a.T.Fatal(err)
	}
	return a.Send("POST", "/designs", io.Reader(&b), "Content-Type", w.FormDataContentType())
}

func AddPart(t testing.TB, w *multipart.Writer, name string, content []byte) {
	t.Helper()
	h := textproto.MIMEHeader{}
	h.Set("Content-Disposition", `form-data; name="file"; filename="`+strings.NewReplacer(`\`, `\\`, `"`,
		`\"`).Replace(name)+`"`)
	p, err := w.CreatePart(h)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.Write(content); err != nil {
		t.Fatal(err)
	}
}

func DemoFile(t testing.TB, name string) []byte {
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

// DemoDesign uploads one of the demo's designs.
func (a *App) DemoDesign(name string) *shop.Design {
	a.T.Helper()
	added := Into[struct{ Added []designs.Added }](a.Upload(map[string][]byte{name: DemoFile(a.T, name)}))
	if len(added.Added) != 1 || added.Added[0].Design == nil {
		a.T.Fatalf("added %+v", added)
	}
	return added.Added[0].Design
}

func (a *App) Machine(class, name string) string {
	a.T.Helper()
	return Into[struct{ ID string }](a.Send("POST", "/machines",
		map[string]string{"class": class, "name": name}).OK(201)).ID
}

// Finish waits for work and holds its result against a schema.
func (a *App) Finish(r *Answer, schema string) *Answer {
	a.T.Helper()
	w := Into[jobs.Work](r.OK(202))
	for end := time.Now().Add(time.Minute); time.Now().Before(end); {
		r = a.Send("GET", "/work/"+w.ID+"?wait=5", nil).OK(200)
		if w = Into[jobs.Work](r); w.State != jobs.Waiting && w.State != jobs.Running {
			break
		}
	}
	if w.State != jobs.Done {
		a.T.Fatalf("work is %s: %+v", w.State, w.Error)
	}
	if schema != "" {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(r.Body))
		if err != nil {
			a.T.Fatal(err)
		}
		if err := SchemaAt(a.T, "/components/schemas/"+schema).Validate(v.(map[string]any)["result"]); err != nil {
			a.T.Errorf("the result against %s: %v", schema, err)
		}
	}
	return r
}

func ResultOf[T any](r *Answer) (T, jobs.Work) {
	r.T.Helper()
	var w struct {
		jobs.Work
		Result T `json:"result"`
	}
	if err := json.Unmarshal(r.Body, &w); err != nil {
		r.T.Fatal(err)
	}
	return w.Result, w.Work
}

// Page asks for a page, or sends a form where there is one. Its body has plain spaces where a
// number and its unit stay on one line.
func (a *App) Page(path string, form url.Values) (status int, body string) {
	a.T.Helper()
	var res *http.Response
	var err error
	if form == nil {
		res, err = a.Client.Get(a.URL + path)
	} else {
		res, err = a.Client.PostForm(a.URL+path, form)
	}
	if err != nil {
		a.T.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // read
	b, err := io.ReadAll(res.Body)
	if err != nil {
		a.T.Fatal(err)
	}
	return res.StatusCode, strings.ReplaceAll(string(b), "\u00a0", " ")
}

// SignIn signs in with the password that Account gives.
func (a *App) SignIn(name string) {
	a.T.Helper()
	a.Send("POST", "/session", map[string]string{"name": name, "password": Password}).OK(200)
}

// Password is the password of every account of the tests.
const Password = "a long enough password"

// Account makes an account.
func (a *App) Account(name string, role shop.Role) *shop.Account {
	a.T.Helper()
	ac, err := a.Shop.Accounts.Add(a.T.Context(), name, Password, role)
	if err != nil {
		a.T.Fatal(err)
	}
	return ac
}
