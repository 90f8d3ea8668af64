package book

import (
	"fmt"
	"strings"
)

// Seen is the state of what an answer about orders was made from. What is done
// upon the answer is refused where the state is another by then. A part that is
// zero was not looked at.
type Seen struct {
	Order    int    // version of the order that was asked about
	Orders   string // digest of the planned orders and their versions
	Workshop int    // its version, from 1; 1 too where none is kept
	Machines string // digest of the machines and their sheets' versions
	Plan     int    // version of the kept plan, from 1; 1 too where none is kept
	Reports  int    // of the floor, with recordings: one more than came in and were taken back
}

const seenForm = "o%d-p%s-w%d-m%s-l%d-r%d"

// String is the state in one word, for forms and the API.
func (s Seen) String() string {
	dash := func(s string) string {
		if s == "" {
			return "_"
		}
		return s
	}
	return fmt.Sprintf(seenForm, s.Order, dash(s.Orders), s.Workshop, dash(s.Machines), s.Plan, s.Reports)
}

// MarshalText is String.
func (s Seen) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (s *Seen) UnmarshalText(b []byte) error {
	var out Seen
	words := strings.ReplaceAll(string(b), "-", " ")
	_, err := fmt.Sscanf(words, strings.ReplaceAll(seenForm, "-", " "),
		&out.Order, &out.Orders, &out.Workshop, &out.Machines, &out.Plan, &out.Reports)
	if err != nil {
		return fmt.Errorf("%q says nothing of what was seen; leave it out, or give it as it came", b)
	}
	for _, p := range []*string{&out.Orders, &out.Machines} {
		if *p == "_" {
			*p = ""
		}
	}
	*s = out
	return nil
}

// Changed says what is no longer as it was seen, for people: "the plan, the
// machines". It is empty where all is as it was.
func (s Seen) Changed(now Seen) string {
	var what []string
	for _, c := range []struct {
		name   string
		differ bool
	}{
		{"the order", s.Order != 0 && s.Order != now.Order},
		{"the orders in the plan", s.Orders != "" && s.Orders != now.Orders},
		{"the workshop", s.Workshop != 0 && s.Workshop != now.Workshop},
		{"the machines", s.Machines != "" && s.Machines != now.Machines},
		{"the plan", s.Plan != 0 && s.Plan != now.Plan},
		{"what the floor reported", s.Reports != 0 && s.Reports != now.Reports},
	} {
		if c.differ {
			what = append(what, c.name)
		}
	}
	return strings.Join(what, ", ")
}
