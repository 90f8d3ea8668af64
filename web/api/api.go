// Package api is the HTTP API: all that the pages show, as JSON. The table of
// its operations is made of the ...Routes functions; their OpenAPI description
// (openapi.go) is made from the same table.
package api

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"mime"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"needlepace/book"
	"needlepace/internal/tomlfile"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// route is one entry of the API. The description of the API (openapi.go) is
// made from the same table, so neither has what the other has not.
type route struct {
	name    string     // operation, e.g. "listDesigns"
	at      string     // method and path, "GET /designs": under serve.APIRoot, or from / where it begins with "//"
	right   shop.Right // empty: nobody need be signed in
	summary string
	handler
	query []param
}

// op is a route.
func op(name, at string, right shop.Right, summary string, h handler, query ...param) *route {
	return &route{name, at, right, summary, h, query}
}

// handler is what a route does, with the types of what it takes and answers.
type handler struct {
	in      any    // a value of the request body's type; nil: none
	inType  string // media type of the request body where it is not JSON
	out     any    // a value of the answer's type; nil: none (204), or see outType
	outType string // media types of the answer where it is not JSON, comma between
	result  any    // of an operation that begins work, and so answers with jobs.Work: a value of its result's type
	status  int    // of success; 0 is 200, or 204 without an answer
	do      func(*call) (any, error)
}

// gives answers a request without a body.
func gives[Out any](do func(*call) (*Out, error)) handler {
	var out Out
	return handler{out: out, do: func(c *call) (any, error) { return do(c) }}
}

// takes answers a request with a JSON body.
func takes[In, Out any](do func(*call, In) (*Out, error)) handler {
	h := gives(func(c *call) (*Out, error) {
		var in In
		if err := c.read(&in); err != nil {
			return nil, err
		}
		out, err := do(c, in)
		return out, lacks(reflect.TypeFor[In](), c.sent, err)
	})
	var in In
	h.in = in
	return h
}

// makes takes a JSON body and makes something of it.
func makes[In, Out any](do func(*call, In) (*Out, error)) handler {
	return takes(do).as(http.StatusCreated)
}

// begins takes a JSON body and begins work with a result.
func begins[Result, In any](do func(*call, In) (*jobs.Work, error)) handler {
	h := takes(do).as(http.StatusAccepted)
	var r Result
	h.result = r
	return h
}

// ofOrder answers a request about the order in the path.
func ofOrder[Out any](do func(*call, *book.Order) (*Out, error)) handler {
	return gives(func(c *call) (*Out, error) {
		o, err := c.Order()
		if err != nil {
			return nil, err
		}
		return do(c, o)
	})
}

// onOrder takes a JSON body about the order in the path.
func onOrder[In, Out any](do func(*call, *book.Order, In) (*Out, error)) handler {
	return takes(func(c *call, in In) (*Out, error) {
		o, err := c.Order()
		if err != nil {
			return nil, err
		}
		return do(c, o, in)
	})
}

// takesOnly takes a JSON body and has nothing to answer.
func takesOnly[In any](do func(*call, In) error) handler {
	var in In
	return handler{in: in, do: func(c *call) (any, error) {
		var in In
		if err := c.read(&in); err != nil {
			return nil, err
		}
		return nil, lacks(reflect.TypeFor[In](), c.sent, do(c, in))
	}}
}

// does has nothing to answer.
func does(do func(*call) error) handler {
	return handler{do: func(c *call) (any, error) { return nil, do(c) }}
}

// file writes its answer itself.
func file(outType string, do func(*call) error) handler {
	h := does(do)
	h.outType = outType
	return h
}

// as is the handler with another status of success.
func (h handler) as(status int) handler {
	h.status = status
	return h
}

// reads is the handler with a JSON body that it reads itself.
func (h handler) reads(in any) handler {
	h.in = in
	return h
}

// from is the handler with a request body that is not JSON.
func (h handler) from(mediaType string) handler {
	h.inType = mediaType
	return h
}

// param is one parameter in the query.
type param struct {
	name, kind string // kind: string, integer, number, boolean
	about      string
	enum       []string
}

func text(name, about string, enum ...string) param { return param{name, "string", about, enum} }
func integer(name, about string) param              { return param{name, "integer", about, nil} }
func number(name, about string) param               { return param{name, "number", about, nil} }
func yes(name, about string) param                  { return param{name, "boolean", about, nil} }

// call is one request being answered.
type call struct {
	*serve.Call
	sent []byte // the JSON body that was read
}

// address is a route's method and whole path.
func (rt *route) address() (method, path string) {
	method, path, _ = strings.Cut(rt.at, " ")
	if p, ok := strings.CutPrefix(path, "//"); ok {
		return method, "/" + p
	}
	return method, serve.APIRoot + path
}

// Routes is the API.
func Routes() []serve.Route {
	var all []serve.Route
	for _, rt := range routes() {
		method, path := rt.address()
		all = append(all, serve.Route{Method: method, Path: path, Right: rt.right, Do: rt.serve, Fail: Fail})
	}
	return all
}

// Fail tells what was wrong in the API's form.
func Fail(c *serve.Call, err error) {
	if e := serve.Saying(err); !e.Say.IsZero() { // a page of ours shows it to an operator
		if w := chosen(c); w != nil {
			theirs := *e
			theirs.Text = e.In(w)
			err = &theirs
		}
	}
	c.Fail(c.W, c.Request, err)
}

// chosen is how the browser that asks wants sentences, where a language was chosen in it: a page
// of ours shows them there. nil: none was.
func chosen(c *serve.Call) *words.Writer {
	l := c.Chosen()
	if l == nil {
		return nil
	}
	c.Spoken = l
	d, _, err := c.When()
	if err != nil {
		return nil
	}
	return d.W
}

// Description is the API's OpenAPI document.
func Description() []byte {
	described.once.Do(func() { described.doc = describe(routes()) })
	return described.doc
}

var described struct {
	once sync.Once
	doc  []byte
}

// serve answers one request of a route.
func (rt *route) serve(c *serve.Call) error {
	c.W.Header().Set("Cache-Control", "no-store")
	if err := rt.knows(c.URL.Query()); err != nil {
		return err
	}
	out, err := rt.do(&call{Call: c})
	if err != nil {
		return err
	}
	if !c.May(shop.SeeMoney) {
		out = withoutPrices(out)
	}
	switch {
	case rt.outType != "":
		return nil
	case rt.out == nil:
		c.W.WriteHeader(http.StatusNoContent)
		return nil
	}
	status := rt.status
	if st, ok := out.(interface{ httpStatus() int }); ok {
		status = st.httpStatus()
	}
	if status == 0 {
		status = http.StatusOK
	}
	c.JSON(c.W, c.Request, status, out)
	return nil
}

// knows refuses a query with a key that the route has not: what it was to do would be passed over. What lies beside
// the API is asked by programs that watch, which add what they like.
func (rt *route) knows(query url.Values) error {
	if _, path := rt.address(); !strings.HasPrefix(path, serve.APIRoot) {
		return nil
	}
	var names []string
	for _, p := range rt.query {
		names = append(names, p.name)
	}
	for _, key := range slices.Sorted(maps.Keys(query)) {
		if slices.Contains(names, key) {
			continue
		}
		said := "leave it out"
		if len(names) > 0 {
			said = "it has " + strings.Join(names, ", ")
		}
		if near := tomlfile.Nearest(key, slices.Values(names)); near != "" {
			said = "did you mean " + near + "?"
		}
		return &shop.Error{Code: shop.Invalid, Key: key, Text: fmt.Sprintf("%q is nothing that this address can be asked; %s", key, said)}
	}
	return nil
}

// work is what the doing of work gets: a context that ends with the time
// limit, a cancel or the program, and how to tell how far it has come.
type work struct {
	ctx  context.Context
	step jobs.Step
}

// begin starts work for whoever asks.
func (c *call) begin(kind string, do func(*work) (any, error)) (*jobs.Work, error) {
	w, err := c.Jobs.Begin(kind, c.By(), func(ctx context.Context, st jobs.Step) (any, error) {
		return do(&work{c.Working(ctx), st})
	})
	return &w, err
}

// maxJSON is the largest JSON body: a sheet or a setup is a few kilobytes, a
// thousand runs some hundred.
const maxJSON = 4 << 20

// wrongJSON says what a decoder found, and where.
func wrongJSON(body []byte, err error) string {
	var wrong *json.UnmarshalTypeError
	if errors.As(err, &wrong) {
		want := "another kind of value"
		switch k := wrong.Type.Kind(); {
		case k == reflect.String:
			want = "a text"
		case k == reflect.Bool:
			want = "true or false"
		case k == reflect.Float64:
			want = "a number"
		case k >= reflect.Int && k <= reflect.Uint64:
			want = "a whole number"
		case k == reflect.Slice:
			want = "a list"
		case k == reflect.Struct, k == reflect.Map:
			want = "an object"
		}
		keys := slices.DeleteFunc(strings.Split(wrong.Field, "."), func(key string) bool { // names of types
			return key != "" && unicode.IsUpper(rune(key[0]))
		})
		return fmt.Sprintf("%s is of kind %s (byte %d); %s is wanted", cmp.Or(strings.Join(keys, "."), "it"), wrong.Value, wrong.Offset, want)
	}
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		return fmt.Sprintf("line %d, byte %d: %v", 1+bytes.Count(body[:min(int(syntax.Offset), len(body))], []byte("\n")), syntax.Offset, err)
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return "it ends early"
	}
	return strings.TrimPrefix(err.Error(), "json: ")
}

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
		return serve.BadRequest("the body ended early: %w", err)
	}
	if len(b) > maxJSON {
		return shop.Errorf(shop.TooLarge, "the body has more than %d bytes", maxJSON)
	}
	if !utf8.Valid(b) {
		return serve.BadRequest("the body is not UTF-8 text, as JSON must be (RFC 8259)")
	}
	c.sent = b
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return serve.BadRequest("the body is not the JSON that is wanted here: %s", wrongJSON(b, err))
	}
	if d.More() {
		return serve.BadRequest("there is something after the JSON value")
	}
	return nil
}
