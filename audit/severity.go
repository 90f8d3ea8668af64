package audit

import (
	"fmt"
	"slices"

	"needlepace/words"
)

// Severity is how bad a finding is, beside the time it costs. A later one is
// graver.
type Severity uint8

// The severities. Which kind of finding has which is common practice, no
// published source.
const (
	OnlyTime Severity = iota // it costs time, or nothing
	Shows                    // it may be seen in the piece or cost a thread break
	Spoils                   // it comes undone, tears the cloth or spoils the piece
	Hurts                    // a needle may break or strike; somebody may be hurt
)

var severities = []string{"time", "shows", "spoils", "hurts"}

// String is the severity's stable name, for JSON and CSV.
func (s Severity) String() string { return severities[min(int(s), len(severities)-1)] }

// Text is the severity in words.
func (s Severity) Text(w *words.Writer) string { return words.Say("severity." + s.String()).Text(w) }

// Raw is the severity's stable name.
func (s Severity) Raw() string { return s.String() }

// MarshalText writes the stable name.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a stable name.
func (s *Severity) UnmarshalText(b []byte) error {
	k := slices.Index(severities, string(b))
	if k < 0 {
		return fmt.Errorf("there is no severity %q; there are %v", b, severities)
	}
	*s = Severity(k)
	return nil
}

// worse is the graver of two severities by how many times the limit is passed:
// from twice it spoils, from four times it hurts. Engineering choices: a
// needle that meets so much thread bends, and one that bends strikes the plate.
func worse(s Severity, over float64) Severity {
	switch {
	case over >= 4:
		return max(s, Hurts)
	case over >= 2:
		return max(s, Spoils)
	}
	return s
}
