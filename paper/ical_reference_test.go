// Source: RFC 5545 (Internet Calendaring and Scheduling Core Object Specification), sections 3.1, 3.2, 3.3.5, 3.3.11, 3.6, 3.6.1 and the examples there.
package paper

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"needlepace/book"
	"needlepace/internal/readback"
)

// parse reads iCalendar text by the rules of RFC 5545: unfolding (3.1), name,
// parameters and value. It fails on what the standard forbids.
func parseICS(t *testing.T, data []byte) (props [][3]string) {
	t.Helper()
	text := string(data)
	if strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
		t.Fatal("a line does not end with CR LF (3.1)")
	}
	if !strings.HasSuffix(text, "\r\n") {
		t.Fatal("the last line is not ended (3.1)")
	}
	for _, l := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(l) > 75 {
			t.Errorf("a line of %d octets: %q (3.1: 75)", len(l), l)
		}
		if !utf8.ValidString(l) {
			t.Errorf("a character is cut by folding: %q", l)
		}
		for _, r := range l {
			if r < ' ' && r != '\t' || r == 0x7f {
				t.Errorf("a control sign in %q (3.1)", l)
			}
		}
	}
	unfolded := strings.ReplaceAll(strings.ReplaceAll(text, "\r\n ", ""), "\r\n\t", "")
	for _, l := range strings.Split(strings.TrimSuffix(unfolded, "\r\n"), "\r\n") {
		quoted := false
		at := strings.IndexFunc(l, func(r rune) bool {
			if r == '"' {
				quoted = !quoted
			}
			return r == ':' && !quoted
		})
		if at < 0 {
			t.Fatalf("no value in %q", l)
		}
		name, params, _ := strings.Cut(l[:at], ";")
		props = append(props, [3]string{name, params, l[at+1:]})
	}
	return props
}

// unescape undoes the escapes of TEXT (3.3.11) and fails on others.
func unescape(t *testing.T, s string) string {
	t.Helper()
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] == ',' || s[i] == ';':
			t.Errorf("%q has an unescaped %c (3.3.11)", s, s[i])
			b.WriteByte(s[i])
		case s[i] != '\\':
			b.WriteByte(s[i])
		case i+1 < len(s) && strings.IndexByte(`\;,`, s[i+1]) >= 0:
			i++
			b.WriteByte(s[i])
		case i+1 < len(s) && (s[i+1] == 'n' || s[i+1] == 'N'):
			i++
			b.WriteByte('\n')
		default:
			t.Errorf("%q has an escape that TEXT does not know (3.3.11)", s)
		}
	}
	return b.String()
}

func TestCalendarFollowsRFC5545(t *testing.T) {
	berlin := time.FixedZone("", 2*3600)
	hard := "Ferry logo; 72 polos, left chest \\ \"urgent\"\nsecond line: größer, 刺繍, " + strings.Repeat("long and longer ", 20) + "\x07\r\nend"
	plain := "Ferry logo; 72 polos, left chest \\ \"urgent\"\nsecond line: größer, 刺繍, " + strings.Repeat("long and longer ", 20) + "\nend"
	c := Calendar{Name: "Plan, bay 2", Made: time.Date(2026, 3, 3, 11, 30, 15, 0, berlin), Events: []Event{
		{UID: "lot-1042-1@shop.example", Start: time.Date(2026, 3, 9, 7, 10, 0, 0, berlin), End: time.Date(2026, 3, 9, 12, 40, 0, 0, berlin), Summary: hard, Description: hard, Location: "Six Sisters; hall 2", URL: "https://shop.example/plan?lot=1042,1", Categories: []string{"run", "late, maybe"}},
		{UID: "lot-1042-2@shop.example", Start: time.Date(2026, 3, 9, 13, 0, 0, 0, time.UTC), End: time.Date(2026, 3, 9, 13, 0, 0, 0, time.UTC), Summary: strings.Repeat("ä", 200)},
	}}
	var b bytes.Buffer
	if err := c.ICS(&b); err != nil {
		t.Fatal(err)
	}
	if read := readback.ICS(t, b.Bytes()); len(read) != 2 || read[0].Summary != plain || read[0].UID != "lot-1042-1@shop.example" {
		t.Errorf("another program reads %+v", read)
	}
	props := parseICS(t, b.Bytes())
	var stack []string
	count := map[string]int{}
	var got []map[string]string
	for _, p := range props {
		switch p[0] {
		case "BEGIN":
			stack = append(stack, p[2])
			if p[2] == "VEVENT" {
				got = append(got, map[string]string{})
			}
			continue
		case "END":
			if len(stack) == 0 || stack[len(stack)-1] != p[2] {
				t.Fatalf("END:%s closes nothing", p[2])
			}
			stack = stack[:len(stack)-1]
			continue
		}
		if len(stack) == 1 {
			count[p[0]]++
		}
		if len(stack) == 2 {
			e := got[len(got)-1]
			if _, twice := e[p[0]]; twice && p[0] != "CATEGORIES" {
				t.Errorf("%s stands twice in an event (3.6.1)", p[0])
			}
			e[p[0]] = p[2]
		}
	}
	if len(stack) != 0 || props[0] != [3]string{"BEGIN", "", "VCALENDAR"} {
		t.Error("not one whole calendar object (3.4)")
	}
	for _, once := range []string{"PRODID", "VERSION"} {
		if count[once] != 1 {
			t.Errorf("%s stands %d times, must once (3.6)", once, count[once])
		}
	}
	if len(got) != 2 {
		t.Fatalf("%d events", len(got))
	}
	// DATE-TIME in UTC, form 2 of 3.3.5, as the standard's DTSTART:19970714T170000Z.
	for k, want := range map[string]string{"DTSTAMP": "20260303T093015Z", "DTSTART": "20260309T051000Z", "DTEND": "20260309T104000Z", "UID": "lot-1042-1@shop.example", "URL": "https://shop.example/plan?lot=1042,1"} {
		if got[0][k] != want {
			t.Errorf("%s is %q, want %q", k, got[0][k], want)
		}
	}
	if s := unescape(t, got[0]["SUMMARY"]); s != plain {
		t.Errorf("summary reads back as %q", s)
	}
	if s := unescape(t, got[0]["DESCRIPTION"]); s != plain {
		t.Errorf("description reads back as %q", s)
	}
	if s := unescape(t, got[0]["LOCATION"]); s != "Six Sisters; hall 2" {
		t.Errorf("location reads back as %q", s)
	}
	if s := unescape(t, got[0]["CATEGORIES"]); s != "late, maybe" {
		t.Errorf("category reads back as %q", s)
	}
	if s := unescape(t, got[1]["SUMMARY"]); s != strings.Repeat("ä", 200) {
		t.Errorf("summary reads back as %q", s)
	}
}

func TestCalendarRefusesWhatCannotStand(t *testing.T) {
	at := time.Date(2026, 3, 9, 7, 0, 0, 0, time.UTC)
	ok := Event{UID: "a", Start: at, End: at.Add(time.Hour)}
	for want, c := range map[string]Calendar{
		"time it is made": {Events: []Event{ok}},
		"has no UID":      {Made: at, Events: []Event{{Start: at, End: at}}},
		"another event":   {Made: at, Events: []Event{ok, ok}},
		"before it begin": {Made: at, Events: []Event{{UID: "b", Start: at, End: at.Add(-1)}}},
	} {
		if err := c.ICS(&bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error with %q, got %v", want, err)
		}
	}
}

// A job that comes to a machine twice, or on two machines, is as many
// appointments, each with a UID that stays its own when the plan moves.
func TestAJobThatComesTwiceToAMachineIsTwoAppointments(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 3, 9, h, 0, 0, 0, time.UTC) }
	lot := func(job, machine string, from int) book.PlanLot {
		return book.PlanLot{Job: job, MachineID: machine, Machine: machine, Name: "1001", Quantity: 4, SetupFrom: at(from), From: at(from), To: at(from + 1)}
	}
	made := func(hour int) map[string]bool {
		p := &book.Plan{Made: at(7), Lots: []book.PlanLot{lot("o/1", "a", hour), lot("o/2", "a", hour+1), lot("o/1", "a", hour+2), lot("o/1", "b", hour)}}
		var b bytes.Buffer
		if err := PlanCalendar(p, nil, "Quay").ICS(&b); err != nil {
			t.Fatal(err)
		}
		ids := map[string]bool{}
		for _, a := range readback.ICS(t, b.Bytes()) {
			ids[a.UID] = true
		}
		if len(ids) != len(p.Lots) {
			t.Errorf("%d UIDs for %d lots", len(ids), len(p.Lots))
		}
		return ids
	}
	was := made(8)
	for id := range made(10) {
		if !was[id] {
			t.Errorf("the UID %s is new, though the lots only moved", id)
		}
	}
}

// 3.8.2.2: DTEND "MUST be later in time than the value of the DTSTART property"; 3.6.1: an event without it ends as it begins.
func TestAnEventThatTakesNoTimeHasNoEnd(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	c := Calendar{Made: at}
	for i, end := range []time.Duration{0, 900 * time.Millisecond, time.Second} {
		c.Events = append(c.Events, Event{UID: string(rune('a' + i)), Start: at, End: at.Add(end), Summary: "s"})
	}
	var out bytes.Buffer
	if err := c.ICS(&out); err != nil {
		t.Fatal(err)
	}
	ends, n := 0, 0
	for _, p := range parseICS(t, out.Bytes()) {
		switch p[0] {
		case "BEGIN":
			n++
		case "DTEND":
			if ends++; p[2] != "20260302T080001Z" {
				t.Errorf("an event ends %s, begins 20260302T080000Z", p[2])
			}
		}
	}
	if n != 4 || ends != 1 {
		t.Errorf("%d objects, %d ends", n, ends)
	}
}
