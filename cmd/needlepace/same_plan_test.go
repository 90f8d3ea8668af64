package main

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/words"
)

// lot is a line's lot of the plan.
func (d *demoServed) lot(name string) *book.PlanLot {
	d.t.Helper()
	var kept struct{ Plan book.Plan }
	into(d.t, d.get("/plan"), &kept)
	p := &kept.Plan
	i := slices.IndexFunc(p.Lots, func(l book.PlanLot) bool { return l.Name == name })
	if i < 0 {
		d.t.Fatalf("%s is not in the plan", name)
	}
	return &p.Lots[i]
}

// planQuestions are the plan, a what-if and moves by hand.
func planQuestions(d *demoServed) []asked {
	none := map[string]string{"pdf": noPaper}
	lot := d.lot("1001")
	value := fmt.Sprintf("/plan?lot=%d/%d@%s", lot.Number, lot.Line, lot.MachineID)
	skipper, gannet := d.machines["Skipper"], d.machines["Gannet"]
	noTable := map[string]string{"csv": oneAnswer, "xlsx": noWorkbook, "pdf": noPaper}
	try := d.shop("plan", "try", "--rush", "1006", "--operators=-1", "--down",
		"Gannet,2026-03-03T08:00,2026-03-03T12:00")
	return []asked{{
		name: "plan", of: []string{"Plan", "Since"}, command: d.shop("plan"), get: "/plan", page: "/plan",
		tables: map[string][]string{"lots": d.shop("plan", "--csv"), "days": nil},
		figures: func(_ string, row []string) []string {
			return slices.DeleteFunc(row, func(s string) bool { return s == "Run sheet" })
		},
		// The command answers for a plan just made too; the API says what changed since.
		differs: []string{"before", "moved", "seen", "changed", "run_sheet"}, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			files, _ := d.wrote(d.shop("plan"), "plan.xlsx", "plan.ics")
			d.sameFiles(files, "/plan/", strings.NewReplacer())
			if csv := string(d.file("/plan/plan.csv")); csv != a.said["csv"] {
				t.Errorf("plan.csv of the page and of the command differ:\n%.600s\n%.600s", csv, a.said["csv"])
			}
			var answer ask.PlanAnswer
			into(t, a.json, &answer)
			sheets := readback.XLSX(t, files["plan.xlsx"])
			samePlan(t, answer.Plan, columnsIn(sheets[0].Rows), true)
			samePlan(t, answer.Plan, columnsOf(t, a.said["csv"], nil), false)
			calendar := string(d.file("/plan/plan.ics"))
			if read := readback.ICS(t, []byte(calendar)); len(read) != len(answer.Plan.Lots) {
				t.Errorf("another program reads %d appointments of %d lots", len(read), len(answer.Plan.Lots))
			}
			for _, l := range answer.Plan.Lots {
				if from := "DTSTART:" + l.SetupFrom.UTC().Format("20060102T150405Z"); !strings.Contains(calendar, from) {
					t.Errorf("the calendar has no %s", from)
				}
			}
		},
	}, {
		name: "thread to buy", of: []string{"ThreadList"}, command: d.shop("plan", "thread", "--days", "3"),
		get: "/plan/thread?days=3", page: "/plan/thread?days=3",
		tables: map[string][]string{"thread-days": d.shop("plan", "thread", "--days", "3", "--csv"), "thread-all": nil},
		not:    none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			files, _ := d.wrote(d.shop("plan", "thread"), "thread.xlsx")
			d.sameFiles(files, "/plan/", strings.NewReplacer())
			if csv := string(d.file("/plan/thread.csv?days=3")); csv != a.said["csv"] {
				t.Errorf("thread.csv of the page and of the command differ:\n%.600s\n%.600s", csv, a.said["csv"])
			}
		},
	}, {
		name: "plan try", of: []string{"Plan"},
		command: try,
		post:    "/plan/try",
		body: `{"rush":[{"order":"1006"}],"operators":-1,"down":[{"machine":"` + gannet +
			`","from":"2026-03-03T08:00","to":"2026-03-03T12:00"}]}`,
		page:   "/plan/try",
		form:   form{"rush": "1006", "operators": "-1", "down": gannet, "from": "2026-03-03T08:00", "to": "2026-03-03T12:00"},
		tables: map[string][]string{"moved": nil}, shown: watched, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			var answer ask.PlanAnswer
			into(t, a.json, &answer)
			shops, err := words.LoadZone(shopsZone)
			if err != nil {
				t.Fatal(err)
			}
			for _, of := range []*ask.Table{answer.BothTable(), answer.LineTable()} {
				_, want := of.Shown(&words.Writer{Zone: shops})
				sameRows(t, "plan try "+of.Key, rowsOf(a.body, of.Key), want)
			}
			files, out := d.wrote(append(slices.Clone(try), "--csv"), "try.xlsx")
			samePlan(t, answer.Plan, columnsIn(readback.XLSX(t, files["try.xlsx"])[0].Rows), true)
			a.said["csv"] = out
			samePlan(t, answer.Plan, columnsOf(t, out, nil), false)
		},
	}, {
		name: "another fleet", of: []string{"Hindsight"}, command: d.shop("plan", "fleet", "--add", "Skipper", "--operators=-1"),
		post: "/plan/fleet", body: `{"add":"Skipper","operators":-1}`, page: "/plan/fleet",
		form:   form{"add": skipper, "operators": "-1"},
		tables: map[string][]string{"fleet": d.shop("plan", "fleet", "--add", "Skipper", "--operators=-1", "--csv")}, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			d.sameBook(t, a, "&xlsx=1", "plan", "fleet", "--add", "Skipper", "--operators=-1")
		},
	}, {
		name: "today", of: []string{"Today"}, command: d.shop("today"), get: "/today", page: "/today",
		lists: map[string][]string{"now": d.shop("today", "--csv")}, shown: watched,
		not: map[string]string{"xlsx": "it is of this minute: nobody keeps it", "pdf": noPaper},
	}, {
		name: "what is left on a machine", of: []string{"Left"}, command: d.shop("left", "Six Sisters", "1200", "1001"),
		get: "/machines/" + d.machines["Six Sisters"] + "/left?at_stitch=1200&order=1001", shown: largely("seconds"),
		page: "/today?machine=" + d.machines["Six Sisters"] + "&stitch=1200&order=1001",
		not:  map[string]string{"csv": oneAnswer, "xlsx": noWorkbook, "pdf": noPaper},
		more: func(t *testing.T, d *demoServed, a *answers) { // the same as the clock's
			o := d.get("/orders/1001")["order"].(map[string]any)["lines"].([]any)[0].(map[string]any)
			k := d.get("/designs/" + o["design"].(string) + "/clock?machine=" + d.machines["Six Sisters"] + "&at_stitch=1200&speed=" + text(t, a.json["set_speed"]))
			mine, its := a.json["parts"].(map[string]any), k["parts"].(map[string]any)
			for _, key := range []string{"set_speed", "at_stitch", "of_stitches"} {
				mine[key], its[key] = a.json[key], k[key]
			}
			delete(mine, "colour_stops") // the order's threads stand on other needles than block after block
			delete(its, "colour_stops")
			if got, want := text(t, mine), text(t, its); got != want {
				t.Errorf("%s on the machine, %s by the clock", got, want)
			}
		},
	}, {
		name: "planned above its cost", of: []string{"Dear"}, command: d.shop("plan", "costs"), get: "/plan/costs", page: "/plan/costs",
		tables: map[string][]string{"dear": d.shop("plan", "costs", "--csv")}, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			d.sameBook(t, a, "?xlsx=1", "plan", "costs")
		},
	}, {
		name: "before there is a file", of: []string{"Rough"},
		command: d.shop("order", "rough", "90", "60", "--colours", "5", "-n", "48", "--came", "wheel-badge.dst"),
		get:     "/rough?width=90&height=60&colours=5&quantity=48&design=" + d.design("wheel-badge.dst"),
		page:    "/orders/rough?width=90&height=60&colours=5&quantity=48&design=" + d.design("wheel-badge.dst"),
		tables:  map[string][]string{"rough": d.shop("order", "rough", "90", "60", "--colours", "5", "-n", "48", "--came", "wheel-badge.dst", "--csv")},
		not:     none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			d.sameBook(t, a, "&xlsx=1", "order", "rough", "90", "60", "--colours", "5", "-n", "48", "--came", "wheel-badge.dst")
		},
	}, {
		name: "after the job", of: []string{"After"}, command: d.shop("order", "after", "--by", "design"),
		get: "/after?by=design", page: "/orders/after?by=design",
		tables: map[string][]string{"after": d.shop("order", "after", "--by", "design", "--csv")}, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			d.sameBook(t, a, "&xlsx=1", "order", "after", "--by", "design")
			if rows := a.json["rows"].([]any); len(rows) != 7 {
				t.Errorf("the demo's finished orders are of 7 designs; %d are told of", len(rows))
			}
		},
	}, {
		name: "move to a place", of: []string{"Move"}, command: d.shop("plan", "move", "1001", "Skipper", "--place", "1"),
		post: "/plan/move", body: `{"order":"1001","line":1,"to":"` + skipper + `","place":1}`,
		page: value + "&to=" + skipper + "&place=1", tables: map[string][]string{"cost": nil}, not: noTable,
	}, {
		name: "move to the end", of: []string{"Move"}, command: d.shop("plan", "move", "1001", "Gannet"),
		post: "/plan/move", body: `{"order":"1001","line":1,"to":"` + gannet + `"}`,
		page: value + "&to=" + gannet, tables: map[string][]string{"cost": nil}, not: noTable,
	}}
}

// watched is what a plan says is to be watched.
func watched(answer map[string]any) (all []string) {
	for _, w := range answer["watch"].([]any) {
		all = append(all, w.(map[string]any)["say"].(map[string]any)["text"].(string))
	}
	return all
}

// columnsIn are a sheet's rows by their columns.
func columnsIn(rows [][]string) map[string][]string {
	out := map[string][]string{}
	for k, name := range rows[0] {
		for _, row := range rows[1:] {
			cell := ""
			if k < len(row) {
				cell = row[k]
			}
			out[name] = append(out[name], cell)
		}
	}
	return out
}

// samePlan holds the columns of a file against a plan. A workbook has the shop's
// clocks as days since 30 December 1899.
func samePlan(t *testing.T, p *book.Plan, columns map[string][]string, workbook bool) {
	t.Helper()
	if len(p.Lots) == 0 || len(columns["pieces"]) != len(p.Lots) {
		t.Fatalf("the file has %d lots, the plan %d", len(columns["pieces"]), len(p.Lots))
	}
	for i, l := range p.Lots {
		if got := columns["pieces"][i]; got != strconv.Itoa(l.Quantity) {
			t.Errorf("lot %d has %s pieces in the file, %d in the plan", i, got, l.Quantity)
		}
		if got := columns["customer"][i]; got != l.Customer {
			t.Errorf("lot %d is for %s in the file, for %s in the plan", i, got, l.Customer)
		}
		wall := l.From.In(p.Zone.Location())
		got, err := time.Parse(time.RFC3339, columns["from"][i])
		if workbook {
			var days float64
			days, err = strconv.ParseFloat(columns["from"][i], 64)
			got = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
			wall = time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, time.UTC)
		}
		if err != nil || got.Sub(wall).Abs() > time.Second {
			t.Errorf("lot %d begins at %v in the file, at %v in the plan: %v", i, got, wall, err)
		}
	}
}

// sameRows compares rows as people read them.
func sameRows(t *testing.T, what string, got, want [][]string) {
	t.Helper()
	if len(got) != len(want) || len(want) == 0 {
		t.Fatalf("%s has %d rows on the page, want %d", what, len(got), len(want))
	}
	for i := range want {
		if w := oneLine(strings.Join(want[i], " ")); strings.Join(got[i], " ") != w {
			t.Errorf("%s: row %d is %q on the page, want %q", what, i, got[i], w)
		}
	}
}

// sameBook compares the workbook that a command writes with the page's, byte by byte.
func (d *demoServed) sameBook(t *testing.T, a *answers, query string, command ...string) {
	t.Helper()
	files, _ := d.wrote(d.shop(command...), "book.xlsx")
	if b := d.file(a.page + query); len(b) == 0 || !bytes.Equal(b, files["book.xlsx"]) {
		t.Errorf("the page's workbook has %d bytes, the command's %d, or they differ", len(b), len(files["book.xlsx"]))
	}
}
