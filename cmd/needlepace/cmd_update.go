package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// UpdateCmd says whether there is a newer release. It asks when it is told to, the
// address that it is told, and installs nothing; nothing else in the program asks.
type UpdateCmd struct {
	Check  bool   `help:"Only check, now; nothing is installed."`
	Source string `help:"Address of a release's latest.json." placeholder:"URL" env:"NEEDLEPACE_UPDATES"`
}

// release is what latest.json says.
type release struct {
	Version string `json:"version"`
	Page    string `json:"page"` // where to get it
}

const (
	updateTime = 10 * time.Second
	updateMost = 64 << 10 // bytes of latest.json
)

// Run asks once.
func (a UpdateCmd) Run(c *Ctx) error {
	if !a.Check || a.Source == "" {
		return usagef("needlepace asks for updates only by hand: needlepace update --check --source URL, where URL is that of a " +
			"release's latest.json")
	}
	req, err := http.NewRequestWithContext(c.Context, http.MethodGet, a.Source, nil)
	if err != nil || req.URL.Scheme != "https" && !loopback(req.URL.Hostname()) {
		return usagef("--source %s: give an address that begins with https://", a.Source)
	}
	client := &http.Client{Timeout: updateTime}
	res, err := client.Do(req)
	if err != nil {
		return fmt.Errorf("no answer from %s: %w", a.Source, err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	var r release
	if err := json.NewDecoder(io.LimitReader(res.Body, updateMost)).Decode(&r); err != nil || res.StatusCode != http.StatusOK || numbers(r.Version) == nil {
		return fmt.Errorf("%s is no latest.json of a release (status %d)", a.Source, res.StatusCode)
	}
	switch newer(r.Version, version) {
	case 1:
		fmt.Fprintf(c.Out, "needlepace %s is there; this is %s.\n", r.Version, version)
		if r.Page != "" {
			fmt.Fprintf(c.Out, "Get it at %q; check it against its SHA256SUMS.\n", r.Page)
		}
	default:
		fmt.Fprintf(c.Out, "needlepace %s is the newest; it is at %s there.\n", version, r.Version)
	}
	return nil
}

// numbers are the three of a version; nil where it is none.
func numbers(v string) (out []int) {
	parts := strings.Split(v, ".")
	if len(parts) != 3 {
		return nil
	}
	for _, p := range parts {
		n, err := strconv.Atoi(p)
		if err != nil || n < 0 {
			return nil
		}
		out = append(out, n)
	}
	return out
}

// newer compares two versions: 1 where a is the newer, -1 where b is.
func newer(a, b string) int {
	x, y := numbers(a), numbers(b)
	for i := range x {
		switch {
		case i >= len(y) || x[i] > y[i]:
			return 1
		case x[i] < y[i]:
			return -1
		}
	}
	return 0
}
