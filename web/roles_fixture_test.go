package web_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/shop/setups"
	"needlepace/shop/visits"
	"needlepace/sound"
	"needlepace/trial"
	"needlepace/web"
	"needlepace/web/webtest"
	"needlepace/words"
)

// peopleOf are the accounts of the shop with one of everything, by role.
var peopleOf = map[shop.Role]string{shop.Operator: "Cleo", shop.Planner: "Ben", shop.Owner: "Ada"}

// rates are the filled shop's rates, as nobody who may not see money must ever
// read them: figures that come about in no other way.
var rates = map[string]string{
	"labour_per_hour = 19.50": "labour_per_hour = 8417.33", "overhead_per_year = 2400": "overhead_per_year = 913733.77",
	"price = 5900": "price = 7193411.19", "digitizing_fee = 45": "digitizing_fee = 6271.83",
}

// oneOfAll is a shop with one of everything, as the bytes of its file,
// and the IDs of what is in it by the names that routes use.
type oneOfAll struct {
	file    []byte
	ids     map[string]string
	secrets []string // rates and prices

	now      func() time.Time // of the shops that are opened; nil: as it is
	evidence []byte           // a sheet of another shop
	visit    []byte           // a visit of another shop, as one file
}

// filled is what fillShop has made for the first that asked.
var filled *oneOfAll

// fillShop makes it: the demo shop with rates of its own, a plan, a kept quote,
// runs, a timing, a learned and an undone sheet, accounts, a picture.
func fillShop(t *testing.T) *oneOfAll {
	t.Helper()
	if filled == nil {
		s, file := &oneOfAll{ids: map[string]string{}}, webtest.Sample(t)
		t.Run("fill", func(t *testing.T) { s.fill(t, file) })
		if t.Failed() {
			t.FailNow()
		}
		var err error
		if s.file, err = os.ReadFile(file); err != nil {
			t.Fatal(err)
		}
		filled = s
	}
	s := *filled
	s.ids = maps.Clone(s.ids)
	return &s
}

func (s *oneOfAll) fill(t *testing.T, file string) {
	a := webtest.Open(t, file, web.Options{Accounts: true})
	ctx := t.Context()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, role := range []shop.Role{shop.Owner, shop.Planner, shop.Operator} {
		s.ids["account"] = a.Account(peopleOf[role], role).ID
	}
	phone, err := a.Shop.Phones.Ask(ctx, &shop.Account{Name: "Ada", Role: shop.Owner}, "Bay 2", shop.Operator)
	must(err)
	s.ids["phone"] = phone.ID
	_, token, err := a.Shop.Accounts.MakeToken(ctx, &shop.Account{Name: "Ada", Role: shop.Owner}, "till", shop.Operator, time.Now().AddDate(1, 0, 0))
	must(err)
	s.ids["token"], s.ids["tokenends"] = token.ID, time.Now().AddDate(0, 1, 0).Format(time.RFC3339)
	for was, is := range rates {
		s.secrets = append(s.secrets, is[strings.LastIndexByte(is, ' ')+1:])
		_ = was
	}
	dear := func(toml string) string {
		for was, is := range rates {
			toml = strings.Replace(toml, was, is, 1)
		}
		return toml
	}
	for kind, name := range map[shop.SetupKind]string{shop.FloorSetup: "floor", shop.MixSetup: "mix"} {
		all, err := a.Shop.Setups.List(ctx, kind)
		must(err)
		kept := *all[0]
		toml := dear(kept.TOML)
		if kind == shop.FloorSetup && !strings.Contains(toml, "[money]") {
			toml += "\n[money]\ncurrency = \"EUR\"\nlabour_per_hour = 8417.33\n"
		}
		kept.TOML = toml
		_, err = a.Shop.Setups.Save(ctx, kept)
		must(err)
		s.ids[name] = kept.ID
	}
	w, err := a.Shop.Setups.Get(ctx, shop.WorkshopID)
	must(err)
	_, err = a.Shop.Setups.SaveWorkshop(ctx, "WORKSHOP.toml", dear(w.TOML), setups.AnyVersion)
	must(err)
	kept, _, err := a.Shop.Setups.WorkshopVersion(ctx)
	must(err)
	s.ids["workshopversion"] = strconv.Itoa(kept)
	s.ids["workshop"] = w.TOML
	asJSON, err := json.Marshal(w.TOML)
	must(err)
	s.ids["workshopjson"] = string(asJSON)
	var logo bytes.Buffer
	must(png.Encode(&logo, image.NewNRGBA(image.Rect(0, 0, 60, 20))))
	_, err = a.Shop.Settings.SaveLogo(ctx, logo.Bytes())
	must(err)

	design, err := a.Shop.Designs.Find(ctx, "gull-cap.dst")
	must(err)
	s.ids["design"] = design.ID
	machines, err := a.Shop.Machines.List(ctx)
	must(err)
	m := machines[0]
	s.ids["machine"], s.ids["machine2"], s.ids["machine3"] = m.ID, machines[1].ID, machines[2].ID
	m, err = a.Shop.Machines.ChangeSheet(ctx, m.ID, m.Version, string(m.Sheet.TOML())+"\n", "again", "Ada")
	must(err)
	s.ids["version"] = strconv.Itoa(m.Version)
	runs, err := a.Shop.Timings.AddRuns(ctx, m.ID, []shop.Run{{DesignID: design.ID, SetSpeed: 800, Seconds: 180, Step: 1}, {DesignID: design.ID, SetSpeed: 700, Seconds: 200, Step: 1}})
	must(err)
	s.ids["run"] = runs[0].ID
	heard := book.Heard{MachineID: m.ID, DesignID: design.ID, Recording: "r", SetSpeed: 812.4, Stitches: 9000, Breaks: 1, Doubtful: 1}
	_, err = a.Shop.Timings.AddHeard(ctx, &heard, []shop.Run{{DesignID: design.ID, Block: 1, With: "only 1-40", SetSpeed: 812.4, Seconds: 4.1}, {SetSpeed: 812.4, Shown: 640, LengthMM: 4}})
	must(err)
	s.ids["heard"] = heard.ID
	_, err = a.Shop.Timings.Save(ctx, &shop.Timing{ID: "timing-0001", MachineID: m.ID, DesignID: design.ID, SetSpeed: 800, Started: time.Now(),
		Marks: []shop.Mark{{Kind: shop.MarkStart}, {Kind: shop.MarkEnd, AtMS: 181_250}}, Rev: 1})
	must(err)
	s.ids["timing"] = "timing-0001"

	others, err := a.Shop.Classes.Evidence(ctx)
	must(err)
	made, _, err := a.Shop.KeepClass(ctx, act.Pooling{Evidence: []string{others[0].ID, others[1].ID}})
	must(err)
	s.ids["class"], s.ids["made"], s.ids["evidence"], s.ids["evidence2"] = made.ID, made.ID, others[0].ID, others[1].ID
	s.evidence = others[2].Sheet.TOML() // to be taken in
	must(a.Shop.Classes.Remove(ctx, others[2].ID))
	learned, err := a.Shop.Machines.Add(ctx, string(others[3].Sheet.TOML()), "", "Ada")
	must(err)
	begun, err := a.Shop.Machines.AddOfClass(ctx, "compact-8", "Begun", "Ada")
	must(err)
	s.ids["learned"], s.ids["begun"] = learned.ID, begun.ID

	s.fillVisits(a)
	orders, _, err := a.Shop.Orders.List(ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed}, Limit: 5})
	must(err)
	o := orders[0]
	s.ids["order"], s.ids["orderid"] = strconv.Itoa(o.Number), o.ID
	s.ids["line"], s.ids["linedesign"] = strconv.Itoa(o.Lines[0].Line), o.Lines[0].DesignID
	q, err := a.Shop.KeepQuote(ctx, ask.QuoteQuestion{Now: a.Shop.Now(), Order: o.ID}, nil, "Ben")
	must(err)
	s.ids["quote"] = q.ID
	s.secrets = append(s.secrets, q.Net.StringFixed(2), q.Gross.StringFixed(2), q.Cost.StringFixed(2), q.Lines[0].Price.StringFixed(2))
	plan, err := a.Shop.MakePlan(ctx, ask.PlanQuestion{Now: a.Shop.Now(), NoBound: true, Moves: 500}, "Ben")
	must(err)
	for i := range plan.Plan.Lots {
		if l := &plan.Plan.Lots[i]; l.OrderID == o.ID && l.Line == o.Lines[0].Line {
			s.ids["lot"], s.ids["lotmachine"] = fmt.Sprintf("%d/%d@%s", l.Number, l.Line, l.MachineID), l.MachineID
		}
	}
	if s.ids["lot"] == "" {
		t.Fatal("the plan does not have the agreed order")
	}
	o, err = a.Shop.Orders.Get(ctx, o.ID)
	must(err)
	s.ids["orderversion"] = strconv.Itoa(o.Version)
	s.fillBegun(a, orders[1], plan.Plan)
	waits, err := a.Shop.KeepRough(ctx, act.RoughKeeping{RoughQuestion: ask.RoughQuestion{Width: 80, Height: 60}, New: book.Order{Customer: "Quay", Weight: 1}}, "Ben")
	must(err)
	s.ids["roughorder"], s.ids["roughversion"] = strconv.Itoa(waits.Number), strconv.Itoa(waits.Version)
	mine := &shop.Act{By: "Cleo", Right: shop.TimeRuns}
	_, err = a.Shop.Timings.AddRuns(shop.WithAct(ctx, mine), m.ID, []shop.Run{{DesignID: design.ID, SetSpeed: 800, Seconds: 182, Step: 1}})
	must(err)
	s.ids["change"] = strconv.FormatInt(mine.Change.Load(), 10)
}

// aTrial is a small trial as a form sends it, and someTimes what comes back to one.
const (
	aTrial = "name=Bay&cloth=twill&thread=polyester+40&needle=75&repeats=2&design%5B0%5D.name=gull&design%5B0%5D.file=shop:{design}&" +
		"place%5B0%5D.name=bay&machine%5B0%5D.name=Ours&machine%5B0%5D.sheet=shop:{machine}&machine%5B0%5D.place=bay&machine%5B0%5D.speed=700&machine%5B0%5D.format=dst&" +
		"machine%5B1%5D.name=Offer&machine%5B1%5D.sheet=single-15-light&machine%5B1%5D.place=bay&machine%5B1%5D.speed=900&machine%5B1%5D.format=dst"
	aCall       = "name=Gull&adviser=Bay&cloth=twill&thread=polyester&needle=75&design%5B0%5D.name=gull&design%5B0%5D.file=shop:{design}"
	someEntries = "class,rated,speed,time\ncompact-8,900,700,9:00\n"
	someTimes   = "place,turn,time\nbay,1,3:00\nbay,2,2:40\n"
)

// fillVisits has a visit with a trial, a photograph and a note, one that is put away, and
// one that another shop hands over.
func (s *oneOfAll) fillVisits(a *webtest.App) {
	a.T.Helper()
	ctx := a.T.Context()
	must := func(err error) {
		a.T.Helper()
		if err != nil {
			a.T.Fatal(err)
		}
	}
	for _, name := range []string{"visit", "visitaway", "visitout"} {
		called := map[string]string{"visit": "Harbour", "visitaway": "Quay", "visitout": "Mole"}[name]
		v, err := a.Shop.BeginVisit(ctx, called, "a client", "")
		must(err)
		s.ids[name] = v.ID
		must(a.Shop.Visits.Put(ctx, v.ID, "Ben", visits.File{Name: "notes/a.txt", As: []byte("seen")}))
		if name == "visitout" {
			var b bytes.Buffer
			must(a.Shop.Visits.Export(ctx, v.ID, &b))
			s.visit = b.Bytes()
		}
		if name != "visit" {
			must(a.Shop.Visits.PutAway(ctx, v.ID, true))
		}
		if name == "visitout" {
			must(a.Shop.Visits.Erase(ctx, v.ID))
		}
	}
	toml := fmt.Sprintf("name = \"Bay\"\ncloth = \"twill\"\nthread = \"polyester\"\nneedle = \"75\"\nrepeats = 2\n[[place]]\nname = \"bay\"\n"+
		"[[design]]\nname = \"gull\"\nfile = \"shop:%s\"\n[[machine]]\nname = \"Ours\"\nsheet = \"shop:%s\"\nplace = \"bay\"\nspeed = 700\n"+
		"[[machine]]\nname = \"Offer\"\nsheet = \"single-15-light\"\nplace = \"bay\"\nspeed = 900\n", s.ids["design"], s.ids["machine"])
	planned, err := a.Shop.KeepTrial(ctx, s.ids["visit"], "bay", "Ben", []byte(toml), nil)
	must(err)
	s.ids["trial"] = "bay"
	sewn := sha256.Sum256(fmt.Appendf(nil, "%d\x00gull\x00Ours\x001", planned.Seed)) // as the page names a sew-out
	s.ids["sewn"] = hex.EncodeToString(sewn[:8])
	asJSON, err := json.Marshal(toml)
	must(err)
	s.ids["trialjson"] = string(asJSON)
	call := fmt.Sprintf("name = \"Gull\"\nadviser = \"Bay\"\ncloth = \"twill\"\nthread = \"polyester\"\nneedle = \"75\"\n[[design]]\nname = \"gull\"\nfile = \"shop:%s\"\n", s.ids["design"])
	_, err = a.Shop.KeepCall(ctx, s.ids["visit"], "gull", "Ben", []byte(call), nil)
	must(err)
	page, err := a.Shop.Visits.OpenCallPage(ctx, s.ids["visit"], "gull", 0)
	must(err)
	s.ids["call"], s.ids["code"] = "gull", page.Code
	asJSON, err = json.Marshal(call)
	must(err)
	s.ids["calljson"] = string(asJSON)
	var photo bytes.Buffer
	must(png.Encode(&photo, image.NewNRGBA(image.Rect(0, 0, 60, 40))))
	_, err = a.Shop.TakeReturns(ctx, s.ids["visit"], "bay", "Ben", []trial.Given{{Name: "bay-1.png", Bytes: photo.Bytes()}})
	must(err)
}

// fillBegun has the floor begin an order: a report, a delivery of a part, garments
// that are still to come.
func (s *oneOfAll) fillBegun(a *webtest.App, o *book.Order, plan *book.Plan) {
	a.T.Helper()
	must := func(err error) {
		a.T.Helper()
		if err != nil {
			a.T.Fatal(err)
		}
	}
	ctx := a.T.Context()
	o, err := a.Shop.Orders.Get(ctx, o.ID)
	must(err)
	line := o.Lines[0].Line
	day := o.Made.AddDate(0, 0, 20)
	due := words.NewDay(day.Year(), day.Month(), day.Day())
	o.Lines[0].Deliveries = []book.Delivery{{Day: due, Pieces: 2}}
	_, err = a.Shop.Orders.Change(ctx, *o, "Ben")
	must(err)
	s.ids["garmentsday"] = due.String()
	for i := range plan.Lots {
		if l := &plan.Lots[i]; l.OrderID == o.ID && l.Line == line {
			s.ids["begunlotmachine"] = l.MachineID
		}
	}
	var r *act.Recorded
	for _, good := range []int{10, 2} { // the last can be taken back, though a part is delivered
		r, err = a.Shop.Record(ctx, book.Report{OrderID: o.ID, Line: line, MachineID: s.ids["begunlotmachine"], Good: good},
			act.Recording{}, "Cleo")
		must(err)
	}
	_, d, err := a.Shop.Deliver(ctx, book.HandOver{OrderID: o.ID, Line: line, Pieces: 3}, 0, "Ben")
	must(err)
	o, err = a.Shop.Orders.Get(ctx, o.ID)
	must(err)
	s.ids["report"], s.ids["delivery"] = r.Report.ID, d.ID
	s.ids["begunorder"], s.ids["begunorderversion"], s.ids["begunline"] = strconv.Itoa(o.Number), strconv.Itoa(o.Version),
		strconv.Itoa(line)
}

// open serves a copy of the shop with one of everything for somebody of a role ("" for
// nobody), who has asked for a piece of work.
func (s *oneOfAll) open(t *testing.T, role shop.Role) (*webtest.App, string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "shop.db")
	if err := os.WriteFile(file, s.file, 0o600); err != nil {
		t.Fatal(err)
	}
	d := webtest.Door(t)
	a := webtest.Open(t, file, web.Options{Accounts: true, Door: d, Pprof: true, Now: s.now})
	if err := d.Open(); err != nil {
		t.Fatal(err)
	}
	if role != "" {
		a.SignIn(peopleOf[role])
		all, err := a.Shop.Accounts.SignIns(t.Context(), "", "")
		if err != nil || len(all) != 1 {
			t.Fatal(all, err)
		}
		s.ids["signin"] = all[0].ID
		who, err := a.Shop.Accounts.List(t.Context())
		i := slices.IndexFunc(who, func(w *shop.Account) bool { return w.Name == peopleOf[role] })
		if err != nil || i < 0 {
			t.Fatal(who, err)
		}
		l, err := a.Shop.Lists.Keep(t.Context(), who[i].ID, shop.List{Of: shop.ListOfDesigns, Name: "Small ones", Query: "sort=-size"})
		if err != nil {
			t.Fatal(err)
		}
		s.ids["list"] = l.ID
	}
	begin(a, peopleOf[role])
	return a, file
}

// oneFile is work that made a file called x.
type oneFile struct{}

func (oneFile) WorkFiles() map[string]jobs.File {
	return map[string]jobs.File{"x": {Name: "x.txt", MediaType: "text/plain", Content: []byte("x")}}
}

func begin(a *webtest.App, by string) jobs.Work {
	a.T.Helper()
	w, err := a.Server.Jobs().Begin("audit", by, func(context.Context, jobs.Step) (any, error) { return oneFile{}, nil })
	if err == nil {
		w, err = a.Server.Jobs().Look(a.T.Context(), w.ID, 5*time.Second)
	}
	if err != nil {
		a.T.Fatal(err)
	}
	return w
}

// recording is one under way, of whoever began the work, in which a block was
// heard.
func (s *oneOfAll) recording(a *webtest.App, workID string) string {
	a.T.Helper()
	w, err := a.Server.Jobs().Look(a.T.Context(), workID, 0)
	if err != nil {
		a.T.Fatal(err)
	}
	desk := a.Server.Recordings()
	q := ask.ListenQuestion{Design: s.ids["design"], Machine: s.ids["machine"]}
	d, follow, err := ask.Follow(a.T.Context(), a.Shop.Shelf(), q, recordings.Rate)
	if err != nil {
		a.T.Fatal(err)
	}
	st, err := desk.Begin(w.By, q, d, follow)
	if err == nil {
		_, err = desk.Add(st.ID, w.By, 0, make([]byte, 64000))
	}
	if err == nil {
		on, e := a.Shop.Shelf().Sheet(a.T.Context(), q.Machine)
		if err = e; err == nil {
			err = desk.Answered(st.ID, w.By, &ask.ListenAnswer{Of: d, On: on, SetSpeed: 700, Sewing: 30,
				Verdict: words.Sentences{words.Say("listen.clipped"), words.Say("listen.cut")},
				Heard:   &sound.Heard{Speed: 700, Runs: []sound.Span{{Start: 1, End: 31}}}})
		}
	}
	if err != nil {
		a.T.Fatal(err)
	}
	s.ids["listening"] = st.ID
	return st.ID
}

// contents are the digests of a shop's tables. Sessions and browsers are left
// out: to sign in makes one.
func contents(t *testing.T, file string) map[string]string {
	t.Helper()
	db, err := sql.Open("sqlite", file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // only read
	names := column(t, db, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
	out := map[string]string{}
	for _, name := range names {
		if name == "sessions" || name == "devices" {
			continue
		}
		rows, err := db.Query("SELECT * FROM " + name + " ORDER BY 1, 2")
		if err != nil {
			t.Fatal(err)
		}
		cols, err := rows.Columns()
		if err != nil {
			t.Fatal(err)
		}
		sum, n := sha256.New(), 0
		for ; rows.Next(); n++ {
			row := make([]any, len(cols))
			at := make([]any, len(cols))
			for i := range row {
				at[i] = &row[i]
			}
			if err := rows.Scan(at...); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(sum, "%v\n", row)
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
		out[name] = fmt.Sprintf("%d rows, %s", n, hex.EncodeToString(sum.Sum(nil)[:8]))
	}
	return out
}

func column(t *testing.T, db *sql.DB, query string) (out []string) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close() //nolint:errcheck // only read
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			t.Fatal(err)
		}
		out = append(out, s)
	}
	return out
}
