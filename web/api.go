package web

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"needlepace/shop"
)

const apiRoot = "/api/v1"

// route is one entry of the API. The description of the API (openapi.go) is
// made from the same table, so neither has what the other has not.
type route struct {
	name    string // operation, e.g. "listDesigns"
	method  string
	path    string // under apiRoot, or from / where it begins with "//"
	need    shop.Role
	summary string
	query   []param
	in      any    // a value of the request body's type; nil: none
	inType  string // media type of the request body where it is not JSON
	out     any    // a value of the answer's type; nil: none (204), or see outType
	outType string // media types of the answer where it is not JSON, comma between
	result  any    // of an operation that begins work: a value of its result's type
	status  int    // of success; 0 is 200, or 204 without an answer
	open    bool   // needs no sign-in
	do      func(*call) (any, error)
}

// param is one parameter in the query.
type param struct {
	name, kind string // kind: string, integer, number, boolean
	about      string
	enum       []string
}

// call is one request being answered.
type call struct {
	*http.Request
	s   *Server
	w   http.ResponseWriter
	ctx context.Context
}

// answered is returned by a route that wrote its answer itself.
type answered struct{}

func (rt *route) pattern() string {
	if p, ok := strings.CutPrefix(rt.path, "//"); ok {
		return rt.method + " /" + p
	}
	return rt.method + " " + apiRoot + rt.path
}

// api registers the routes of the API.
func (s *Server) api(mux *http.ServeMux) {
	all := routes()
	s.description = sync.OnceValue(func() []byte { return describe(all) })
	for _, rt := range all {
		mux.HandleFunc(rt.pattern(), func(w http.ResponseWriter, r *http.Request) { s.serve(rt, w, r) })
	}
	mux.HandleFunc("POST /sign-in", s.formSignIn)
	mux.HandleFunc("POST /sign-out", s.formSignOut)
	// What begins with /api/ and is no route answers in the API's form.
	mux.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		var allow []string
		for _, m := range []string{"GET", "POST", "PUT", "DELETE"} {
			probe := &http.Request{Method: m, URL: r.URL, Host: r.Host}
			if _, p := mux.Handler(probe); p != "/api/" && p != "" && p != "/" {
				allow = append(allow, m)
			}
		}
		if len(allow) > 0 {
			w.Header().Set("Allow", strings.Join(allow, ", "))
			s.failWith(w, r, http.StatusMethodNotAllowed, shop.Errorf(shop.Invalid, "%s does nothing here; use %s", r.Method, strings.Join(allow, " or ")))
			return
		}
		s.fail(w, r, shop.Errorf(shop.NotFound, "the API has nothing at %s; see /api/openapi.json", r.URL.Path))
	})
}

// serve answers one request of a route.
func (s *Server) serve(rt *route, w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	if !rt.open && !s.may(r, rt.need) {
		s.fail(w, r, shop.Errorf(shop.Forbidden, "this needs the role %s", rt.need))
		return
	}
	ctx, cancel := context.WithTimeoutCause(r.Context(), s.opt.WorkTime, errTooLong)
	defer cancel()
	out, err := rt.do(&call{Request: r, s: s, w: w, ctx: ctx})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if _, ok := out.(answered); ok {
		return
	}
	if out == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	status := rt.status
	if st, ok := out.(interface{ httpStatus() int }); ok {
		status = st.httpStatus()
	}
	if status == 0 {
		status = http.StatusOK
	}
	s.json(w, r, status, out)
}

var errTooLong = errors.New("it took too long")

// json writes an answer.
func (s *Server) json(w http.ResponseWriter, r *http.Request, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.log.Error("an answer cannot be written as JSON", "path", r.URL.Path, "error", err)
		s.failWith(w, r, http.StatusInternalServerError, shop.Errorf("internal", "the answer has a number that JSON cannot hold"))
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(len(b)+1))
	w.WriteHeader(status)
	if _, err = w.Write(append(b, '\n')); err != nil {
		s.log.Debug("the client went away", "path", r.URL.Path, "error", err)
	}
}

// failure is the form of every error.
type failure struct {
	Error failureBody `json:"error"`
}

type failureBody struct {
	Code string `json:"code" doc:"for programs"`
	Text string `json:"text" doc:"for people: what is wrong and what to do"`
}

// statusOf is the HTTP status of an error's code.
func statusOf(err error) int {
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge
	}
	switch shop.CodeOf(err) {
	case shop.NotFound:
		return http.StatusNotFound
	case shop.Invalid:
		return http.StatusUnprocessableEntity
	case "bad_request":
		return http.StatusBadRequest
	case shop.Unsupported:
		return http.StatusUnsupportedMediaType
	case shop.Conflict:
		return http.StatusConflict
	case shop.TooLarge:
		return http.StatusRequestEntityTooLarge
	case shop.Busy:
		return http.StatusTooManyRequests
	case shop.Stopped:
		return http.StatusServiceUnavailable
	case shop.Forbidden:
		return http.StatusForbidden
	case shop.SignIn:
		return http.StatusUnauthorized
	case shop.Storage:
		return http.StatusInsufficientStorage
	}
	return http.StatusInternalServerError
}

// fail answers with an error in the API's form. Causes go to the log, not to
// the client.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	s.failWith(w, r, statusOf(err), err)
}

func (s *Server) failWith(w http.ResponseWriter, r *http.Request, status int, err error) {
	var tooLarge *http.MaxBytesError
	var e *shop.Error
	body := failureBody{Code: "internal", Text: "something went wrong in the program; it was logged"}
	switch {
	case errors.As(err, &tooLarge):
		body = failureBody{Code: string(shop.TooLarge), Text: "the upload is larger than " + bytesText(tooLarge.Limit) + "; send fewer files at once"}
	case errors.As(err, &e):
		body = failureBody{Code: string(e.Code), Text: e.Text}
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		status = http.StatusServiceUnavailable
		body = failureBody{Code: string(shop.Stopped), Text: "stopped before the end: it took too long, or the request was given up"}
	}
	if status >= 500 {
		s.log.Error("request failed", "method", r.Method, "path", r.URL.Path, "error", err)
	}
	if status == http.StatusTooManyRequests || status == http.StatusServiceUnavailable {
		if w.Header().Get("Retry-After") == "" {
			w.Header().Set("Retry-After", "2")
		}
	}
	w.Header().Set("Cache-Control", "no-store")
	s.json(w, r, status, failure{body})
}

func bytesText(n int64) string {
	if n >= 1<<20 {
		return strconv.FormatInt(n>>20, 10) + " MB"
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

func badRequest(format string, a ...any) error { return shop.Errorf("bad_request", format, a...) }

// maxJSON is the largest JSON body: a sheet or a setup is a few kilobytes, a
// thousand runs some hundred.
const maxJSON = 4 << 20

// read decodes a JSON body strictly into v.
func (c *call) read(v any) error {
	if t, _, err := mime.ParseMediaType(c.Header.Get("Content-Type")); err != nil || t != "application/json" {
		return shop.Errorf(shop.Unsupported, "send JSON with Content-Type: application/json")
	}
	b, err := io.ReadAll(io.LimitReader(c.Body, maxJSON+1))
	if err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return err
		}
		return badRequest("the body ended early: %w", err)
	}
	if len(b) > maxJSON {
		return shop.Errorf(shop.TooLarge, "the body has more than %d bytes", maxJSON)
	}
	d := json.NewDecoder(strings.NewReader(string(b)))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return badRequest("the body is not the JSON that is wanted here: %v", err)
	}
	if d.More() {
		return badRequest("there is something after the JSON value")
	}
	return nil
}

// query reads parameters and remembers the first thing wrong.
type query struct {
	url.Values
	err error
}

func (c *call) query() *query {
	v, err := url.ParseQuery(c.URL.RawQuery)
	q := &query{Values: v}
	if err != nil {
		q.err = badRequest("the query cannot be read: %v", err)
	}
	return q
}

func (q *query) bad(name, want string) {
	if q.err == nil {
		q.err = shop.Errorf(shop.Invalid, "%s is %q; it must be %s", name, q.Get(name), want)
	}
}

func (q *query) integer(name string, def int) int {
	if q.Get(name) == "" {
		return def
	}
	n, err := strconv.Atoi(q.Get(name))
	if err != nil {
		q.bad(name, "a whole number")
	}
	return n
}

func (q *query) number(name string) float64 {
	if q.Get(name) == "" {
		return 0
	}
	x, err := strconv.ParseFloat(q.Get(name), 64)
	if err != nil || x != x || x > 1e12 || x < -1e12 {
		q.bad(name, "a number")
		return 0
	}
	return x
}

func (q *query) yes(name string) bool {
	switch q.Get(name) {
	case "", "0", "false":
		return false
	case "1", "true":
		return true
	}
	q.bad(name, "true or false")
	return false
}

func (q *query) oneOf(name, def string, of ...string) string {
	v := q.Get(name)
	if v == "" {
		return def
	}
	if !slices.Contains(of, v) {
		q.bad(name, strings.Join(of, " or "))
	}
	return v
}

func urlQuery(s string) string { return url.QueryEscape(s) }

// by is the name of who asks, for histories.
func (c *call) by() string {
	if a := c.s.account(c.Request); a != nil {
		return a.Name
	}
	return ""
}
