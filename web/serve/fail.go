package serve

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"

	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/words"
)

// ErrTooLong is why a call's context ended in time.
var ErrTooLong = errors.New("it took too long")

// JSON writes an answer.
func (s *Site) JSON(w http.ResponseWriter, r *http.Request, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.Log.ErrorContext(r.Context(), "an answer cannot be written as JSON", "path", r.URL.Path, "error", err)
		s.FailWith(w, r, http.StatusInternalServerError, shop.Errorf("internal",
			"the answer has a number that JSON cannot hold"))
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(len(b)+1))
	w.WriteHeader(status)
	if _, err = w.Write(append(b, '\n')); err != nil {
		s.Log.Debug("the client went away", "path", r.URL.Path, "error", err)
	}
}

// Failure is the form of every error.
type Failure struct {
	Error jobs.FailureBody `json:"error"`
}

// WrongMethod is the code of what an address does not do.
const WrongMethod shop.Code = "wrong_method"

// StatusOf is the HTTP status of an error's code.
func StatusOf(err error) int {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return http.StatusRequestEntityTooLarge
	}
	switch shop.CodeOf(err) {
	case shop.NotFound:
		return http.StatusNotFound
	case shop.Invalid:
		return http.StatusUnprocessableEntity
	case "bad_request":
		return http.StatusBadRequest
	case WrongMethod:
		return http.StatusMethodNotAllowed
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
	if shop.ErrorOf(err) == nil && gaveUp(err) {
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// Told is an error as whoever asked is told of it. Causes go to the log, not to
// the client.
func Told(err error) jobs.FailureBody {
	e := Saying(err)
	return jobs.FailureBody{Code: string(e.Code), Text: e.Text, Key: e.Key}
}

// Saying is an error as the shop tells it; one of no kind that the shop knows says
// only that it was logged.
func Saying(err error) *shop.Error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return shop.Saying(shop.TooLarge, words.Say("refused.large", words.Args{"size": words.Name(BytesText(tooLarge.Limit))}))
	}
	if e := shop.ErrorOf(err); e != nil {
		return e
	}
	if gaveUp(err) {
		return shop.Saying(shop.Stopped, words.Say("refused.stopped"))
	}
	return shop.Saying("internal", words.Say("refused.failed"))
}

func gaveUp(err error) bool {
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}

// Fail answers with an error in the API's form.
func (s *Site) Fail(w http.ResponseWriter, r *http.Request, err error) {
	s.FailWith(w, r, StatusOf(err), err)
}

// FailWith answers so with a status.
func (s *Site) FailWith(w http.ResponseWriter, r *http.Request, status int, err error) {
	if status >= 500 && !WentAway(r) {
		s.Log.ErrorContext(r.Context(), "request failed", "method", r.Method, "path", r.URL.Path, "error", err)
	}
	if status == http.StatusTooManyRequests || status == http.StatusServiceUnavailable {
		if w.Header().Get("Retry-After") == "" {
			w.Header().Set("Retry-After", "2")
		}
	}
	w.Header().Set("Cache-Control", "no-store")
	s.JSON(w, r, status, Failure{Told(err)})
}

// WentAway reports whether whoever asked did not wait: what fails then is no fault.
func WentAway(r *http.Request) bool { return errors.Is(r.Context().Err(), context.Canceled) }

// BytesText is a size for people.
func BytesText(n int64) string {
	if n >= 1<<20 {
		return strconv.FormatInt(n>>20, 10) + " MB"
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

// BadRequest is an error of a request that cannot be read.
func BadRequest(format string, a ...any) error { return shop.Errorf("bad_request", format, a...) }
