package serve

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/shop"
)

// Query reads parameters and remembers the first thing wrong.
type Query struct {
	url.Values
	Err error
}

// Query is the request's query.
func (c *Call) Query() *Query {
	v, err := url.ParseQuery(c.URL.RawQuery)
	q := &Query{Values: v}
	if err != nil {
		q.Err = BadRequest("the query cannot be read: %v", err)
	}
	return q
}

// Bad says what a parameter must be.
func (q *Query) Bad(name, want string) {
	if q.Err == nil {
		q.Err = shop.Invalidf("%s is %q; it must be %s", name, q.Get(name), want)
	}
}

// Integer is a whole number; def where the parameter is left out.
func (q *Query) Integer(name string, def int) int {
	if q.Get(name) == "" {
		return def
	}
	n, err := strconv.Atoi(q.Get(name))
	if err != nil {
		q.Bad(name, "a whole number")
	}
	return n
}

// Number is a number; 0 where the parameter is left out.
func (q *Query) Number(name string) float64 {
	if q.Get(name) == "" {
		return 0
	}
	x, err := strconv.ParseFloat(q.Get(name), 64)
	if err != nil || x != x || x > 1e12 || x < -1e12 {
		q.Bad(name, "a number")
		return 0
	}
	return x
}

// Yes is true or false; false where the parameter is left out.
func (q *Query) Yes(name string) bool {
	switch q.Get(name) {
	case "", "0", "false":
		return false
	case "1", "true":
		return true
	}
	q.Bad(name, "true or false")
	return false
}

// OneOf is one of some words; def where the parameter is left out.
func (q *Query) OneOf(name, def string, of ...string) string {
	v := q.Get(name)
	if v == "" {
		return def
	}
	if !slices.Contains(of, v) {
		q.Bad(name, strings.Join(of, " or "))
	}
	return v
}

// Job reads what the operator and the goods ask: machine, speed, cap_frame,
// metallic, job, limit, heavy and needles.
func (q *Query) Job() (on string, job ask.Job) {
	on = q.Get("machine")
	if on == "" && q.Err == nil {
		q.Err = shop.Invalidf("machine is missing: the ID of a machine, or the name of a class")
	}
	job = ask.Job{Speed: q.Number("speed"), Limit: q.Number("limit"), Heavy: q.Number("heavy"),
		CapFrame: q.Yes("cap_frame"), Metallic: q.Yes("metallic")}
	for _, names := range q.Values["job"] { // a box each on the page
		kinds, err := machine.ParseJobs(names)
		if err != nil && q.Err == nil {
			q.Err = shop.At("job", shop.Invalidf("%w", err))
		}
		job.Kinds |= kinds
	}
	if list := q.Get("needles"); list != "" {
		for _, s := range strings.Split(list, ",") {
			n, err := strconv.Atoi(strings.TrimSpace(s))
			if err != nil {
				q.Bad("needles", "needle numbers with commas between, e.g. 3,1,4")
				return
			}
			job.Needles = append(job.Needles, n)
		}
	}
	return on, job
}
