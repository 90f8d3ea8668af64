package api_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/serve"
	"needlepace/web/webtest"
	"needlepace/words"
)

// Every operation once on a small shop, each answer against its description.
func TestEveryOperation(t *testing.T) {
	a := webtest.New(t, web.Options{Version: "1.2.3"})
	if st := webtest.Into[api.Status](a.Send("GET", "/status", nil).OK(200)); !st.Empty || st.Version != "1.2.3" || st.Role != "owner" {
		t.Errorf("a new shop: %+v", st)
	}
	designOperations(a)
	machineOperations(a)
	classOperations(a)
	timingOperations(a)
	shopOperations(a)
	logoOperations(a)
	accountOperations(a)
	recordingOperations(a)
	visitOperations(a)
	changeOperations(a)
	t.Run("sign-ins and tokens", signInOperations)
	t.Run("an order from request to delivery", orderOperations)
	for _, rt := range api.Operations() {
		if _, ok := webtest.Seen.Load(rt.Method + " " + rt.Path); !ok {
			t.Errorf("no test had a good answer of %s (%s)", rt.Name, rt.Method+" "+rt.Path)
		}
	}
}

func designOperations(a *webtest.App) {
	t := a.T
	d := a.DemoDesign("gull-cap.dst")
	again := webtest.Into[api.AddedPage](a.Upload(map[string][]byte{"other name.dst": webtest.DemoFile(t, "gull-cap.dst")}).OK(200))
	if again.Added[0].New || again.Added[0].Design.ID != d.ID {
		t.Errorf("the same bytes under another name: %+v", again.Added[0])
	}
	one := webtest.Into[api.DesignOne](a.Send("GET", "/designs/"+d.ID, nil).OK(200))
	if one.Stitches != d.Stitches || one.Name == "" {
		t.Errorf("%+v", one)
	}
	a.Send("PUT", "/designs/"+d.ID, shop.Description{Name: "Gull", Customer: "Gull & Ladle", Threads: []book.Thread{{Name: "sound blue", Colour: "#2c70ac"}}}).OK(200)
	thumb := a.Send("GET", "/designs/"+d.ID+"/thumb.png?theme=dark", nil).OK(200)
	if !strings.HasPrefix(string(thumb.Body), "\x89PNG") {
		t.Errorf("thumb is %.20q", thumb.Body)
	}
	a.Send("GET", "/designs/"+d.ID+"/thumb.png?theme=dark", nil, "If-None-Match", thumb.Header.Get("ETag")).OK(304)
	file := a.Send("GET", "/designs/"+d.ID+"/file", nil).OK(200)
	if string(file.Body) != string(webtest.DemoFile(t, "gull-cap.dst")) || !strings.Contains(file.Header.Get("Content-Disposition"), `filename="gull-cap.dst"`) {
		t.Errorf("the file came back changed, or as %s", file.Header.Get("Content-Disposition"))
	}
	a.Send("DELETE", "/designs/"+d.ID, nil).OK(204)
	if p := webtest.Into[serve.DesignPage](a.Send("GET", "/designs?removed=true", nil).OK(200)); p.Total != 1 {
		t.Errorf("removed designs: %+v", p)
	}
	a.Send("POST", "/designs/"+d.ID+"/restore", nil).OK(204)

	k := webtest.Into[ask.ClockAnswer](a.Send("GET", "/designs/"+d.ID+"/clock?machine=single-15-light&cap_frame=1&needles=2,3,4,5", nil).OK(200))
	if k.SetSpeed != 650 || k.Blocks[0].Needle != 2 || k.Interval.Low >= k.Seconds || k.Interval.High <= k.Seconds || len(k.Sweep) == 0 || k.KneeSpeed == 0 || len(k.Why) == 0 {
		t.Errorf("%+v", k)
	}
	a.Send("GET", "/designs/"+d.ID+"/rests?machine=single-15-light", nil).OK(200)
	svg := a.Send("GET", "/designs/"+d.ID+"/run.svg?machine=single-15-light&theme=page", nil).OK(200)
	if !strings.Contains(string(svg.Body), "<svg") {
		t.Errorf("%.100s", svg.Body)
	}
	a.Send("GET", "/designs/"+d.ID+"/run.png?machine=single-15-light", nil).OK(200)
	a.Send("GET", "/designs/"+d.ID+"/run.bin?machine=single-15-light", nil).OK(200)
	r, _ := webtest.ResultOf[ask.AuditAnswer](a.Finish(a.Send("POST", "/designs/"+d.ID+"/audit", api.AuditAsked{JobAsked: api.JobAsked{Machine: "single-15-light"}, Pieces: 24, HoopX: 100, HoopY: 100}), "Audit"))
	if r.Seconds <= 0 || r.Stitches != d.Stitches {
		t.Errorf("%+v", r)
	}
}

func machineOperations(a *webtest.App) {
	t := a.T
	if c := webtest.Into[api.ClassPage](a.Send("GET", "/classes", nil).OK(200)); len(c.Classes) != len(machine.Classes()) {
		t.Errorf("%+v", c)
	}
	a.Send("GET", "/classes/compact-8", nil).OK(200)
	id := a.Machine("single-15-light", "Bay 2")
	m := webtest.Into[api.MachineAnswer](a.Send("GET", "/machines/"+id, nil).OK(200))
	if m.Name != "Bay 2" || m.Version != 1 || len(m.Sheet.Constants) < 20 {
		t.Errorf("%+v", m)
	}
	a.Send("GET", "/machines", nil).OK(200)
	toml := strings.Replace(m.Sheet.TOML, "\nmax_speed = 1000", "\nmax_speed = 900", 1)
	m = webtest.Into[api.MachineAnswer](a.Send("PUT", "/machines/"+id, api.SheetChange{Base: 1, TOML: toml, Note: "slower"}).OK(200))
	if m.Version != 2 || m.MaxSpeed != 900 {
		t.Errorf("%+v", m.Machine)
	}
	a.Send("PUT", "/machines/"+id, api.SheetChange{Base: 1, TOML: toml}).Fails(409, shop.Conflict, "version 2")
	m = webtest.Into[api.MachineAnswer](a.Send("POST", "/machines/"+id+"/undo", api.UndoAsked{Base: 2}).OK(200))
	if m.Version != 3 || m.MaxSpeed != 1000 {
		t.Errorf("undone: %+v", m.Machine)
	}
	a.Send("POST", "/machines/"+id+"/undo", api.UndoAsked{Base: 3}).Fails(422, shop.Invalid, "nothing to undo")
	m = webtest.Into[api.MachineAnswer](a.Send("POST", "/machines/"+id+"/undo", api.UndoAsked{Base: 3, To: 2}).OK(200))
	h := webtest.Into[api.HistoryAnswer](a.Send("GET", "/machines/"+id+"/history", nil).OK(200))
	if m.MaxSpeed != 900 || len(h.Versions) != 4 || h.Versions[0].Origin != shop.Undone {
		t.Errorf("%+v, %+v", m.Machine, h)
	}
	sheet := a.Send("GET", "/machines/"+id+"/sheet.toml", nil).OK(200)
	if _, err := machine.Parse("sheet", sheet.Body); err != nil {
		t.Error(err)
	}
	a.Send("DELETE", "/machines/"+id, nil).OK(204)
	a.Send("POST", "/machines/"+id+"/restore", nil).OK(204)
	a.Send("GET", "/machines/"+id+"/law", nil).OK(200)
	a.Send("GET", "/find?find=bay", nil).OK(200)
	a.Send("GET", "/machines/"+id+"/law.svg", nil).OK(200)
}

func timingOperations(a *webtest.App) {
	t := a.T
	d := a.DemoDesign("whale-line.dst")
	id := a.Machine("single-15-light", "Bay 3")
	runs := api.RunsNew{Runs: []api.RunNew{
		{DesignID: d.ID, SetSpeed: 800, Seconds: 400, Step: 1, Date: "2026-01-05"},
		{SetSpeed: 1000, Shown: 880, LengthMM: 3, Date: "2026-01-05"},
	}}
	got := webtest.Into[api.RunPage](a.Send("POST", "/machines/"+id+"/runs", runs).OK(201))
	a.Send("DELETE", "/runs/"+got.Runs[0].ID, nil).OK(204)
	csv := "design,set_speed,seconds\nwhale-line.dst,700,7:05\n"
	if r := webtest.Into[api.RunsRead](a.Send("POST", "/machines/"+id+"/runs.csv", strings.NewReader(csv), "Content-Type", "text/csv").OK(201)); len(r.Runs) != 1 || r.Runs[0].Seconds != 425 || r.Runs[0].DesignID != d.ID {
		t.Errorf("%+v", r)
	}
	tm := api.TimingNew{MachineID: id, DesignID: d.ID, SetSpeed: 800, Started: "2026-02-03T04:05:06Z", Marks: []shop.Mark{{Kind: shop.MarkStart}}, Rev: 1}
	a.Send("PUT", "/timings/phone-0001", tm).OK(200)
	a.Send("PUT", "/timings/phone-0001", tm).OK(200)
	tm.Marks, tm.Rev = append(tm.Marks, shop.Mark{Kind: shop.MarkEnd, AtMS: 401_250}), 2
	a.Send("POST", "/timings/phone-0001/finish", nil).Fails(422, shop.Invalid, "no end yet")
	a.Send("PUT", "/timings/phone-0001", tm).OK(200)
	if p := webtest.Into[api.TimingPage](a.Send("GET", "/timings?open=1&machine="+id, nil).OK(200)); len(p.Timings) != 1 {
		t.Errorf("%+v", p)
	}
	if k := webtest.Into[shop.Timing](a.Send("GET", "/timings/phone-0001", nil).OK(200)); len(k.Marks) != 2 {
		t.Errorf("%+v", k)
	}
	r := webtest.Into[api.RunPage](a.Send("POST", "/timings/phone-0001/finish", nil).OK(201))
	if len(r.Runs) != 1 || r.Runs[0].Seconds != 401.25 || r.Runs[0].Date != words.NewDay(2026, 2, 3) {
		t.Errorf("%+v", r)
	}
	a.Send("POST", "/timings/phone-0001/finish", nil).Fails(409, shop.Conflict, "finished")
	if all := webtest.Into[api.RunPage](a.Send("GET", "/machines/"+id+"/runs", nil).OK(200)); len(all.Runs) != 3 {
		t.Errorf("%d runs", len(all.Runs))
	}
	if r := webtest.Into[ask.ReportedAnswer](a.Send("GET", "/reported?machine="+id, nil).OK(200)); len(r.Machines) != 1 || r.Machines[0].Pace != 1 {
		t.Errorf("what the reports say: %+v", r)
	}
	if sc := webtest.Into[ask.ScoreAnswer](a.Send("GET", "/machines/"+id+"/score", nil).OK(200)); sc.Last.Runs != 1 ||
		sc.Unpredicted != 1 || !sc.Last.Few || sc.Runs[0].Read != 425 {
		t.Errorf("the run of today is scored, that of last month is older than the sheet: %+v", sc)
	}
	a.Send("DELETE", "/timings/phone-0001", nil).OK(204)
	l, _ := webtest.ResultOf[api.LearnedAnswer](a.Finish(a.Send("POST", "/machines/"+id+"/learn", api.LearnAsked{Keep: true}), "Learned"))
	if l.Version != 2 || l.Used == 0 || l.Rows[0].Run == "" {
		t.Errorf("%+v", l)
	}
	if law := webtest.Into[ask.LawAnswer](a.Send("GET", "/machines/"+id+"/law", nil).OK(200)); law.Before == nil || len(law.Readings) != 1 {
		t.Errorf("law: %+v", law.Readings)
	}
	again, _ := webtest.ResultOf[api.LearnedAnswer](a.Finish(a.Send("POST", "/machines/"+id+"/learn", api.LearnAsked{}), "Learned"))
	for i, k := range again.Constants {
		if k != l.Constants[i] {
			t.Errorf("learning twice counted the runs twice: %+v, %+v", k, l.Constants[i])
		}
	}
	p, w := webtest.ResultOf[serve.Piece](a.Finish(a.Send("POST", "/machines/"+id+"/testpiece", api.PieceAsked{TestPieceQuestion: ask.TestPieceQuestion{Minutes: 4}}), "Piece"))
	if len(p.Files) != 3+len(stitchfile.Writable()) || p.Stitches == 0 {
		t.Errorf("%+v", p)
	}
	dst := a.Send("GET", "/work/"+w.ID+"/piece.dst", nil).OK(200)
	if pd, err := stitchfile.Decode(dst.Body, "piece.dst"); err != nil || pd.Count().Stitches != p.Stitches {
		t.Errorf("the test piece's file: %v", err)
	}
	m, mw := webtest.ResultOf[api.MendAnswer](a.Finish(a.Send("POST", "/designs/"+d.ID+"/mend", api.MendAsked{JobAsked: api.JobAsked{Machine: id}, Seconds: 1, Keep: true}), "Mended"))
	mended := a.Send("GET", "/work/"+mw.ID+"/mended", nil).OK(200)
	if md, err := stitchfile.Decode(mended.Body, m.File); err != nil || md.Count().Stitches != m.After.Stitches || m.After.Seconds > m.Before.Seconds || !m.Proof.Same || m.Design == "" {
		t.Errorf("mended: %+v, %v", m, err)
	}
	many := api.MendManyAsked{JobAsked: api.JobAsked{Machine: id}, Customer: "Larkess Ferry Company", Seconds: 1, Keep: true}
	a.Send("POST", "/designs/mend", many).Fails(422, shop.Invalid, "no design is named")
	a.Send("PUT", "/designs/"+d.ID, shop.Description{Name: "Ferry", Customer: many.Customer}).OK(200)
	all, aw := webtest.ResultOf[api.MendedMany](a.Finish(a.Send("POST", "/designs/mend", many), "MendedMany"))
	if all.Mended != 1 || all.Clear != 1 || all.Designs[0].ID != d.ID || all.Designs[0].Kept == "" || all.Designs[0].Saved != m.Saved {
		t.Errorf("mended of a customer: %+v", all.MendManyAnswer)
	}
	one := a.Send("GET", "/work/"+aw.ID+"/"+d.ID, nil).OK(200)
	zipped := a.Send("GET", "/work/"+aw.ID+"/mended.zip", nil).OK(200).Body

	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil || len(z.File) != 1 || z.File[0].Name != m.File {
		t.Errorf("the zip: %v", err)
	}
	if !bytes.Equal(one.Body, mended.Body) {
		t.Errorf("the file of many has %d bytes, the one alone %d", len(one.Body), len(mended.Body))
	}
}

const smallShift = `name = "Small"
[shift]
hours = 4
[[machine]]
name = "Bay 3"
sheet = "Bay 3"
[[operator]]
name = "Ada"
[[job]]
name = "whales"
design = "whale-line.dst"
`

func shopOperations(a *webtest.App) {
	t := a.T
	set := webtest.Into[shop.Settings](a.Send("GET", "/settings", nil).OK(200))
	set.Length, set.ShopName = "inch", "Needle & <Thread>"
	if got := webtest.Into[shop.Settings](a.Send("PUT", "/settings", set).OK(200)); got != set {
		t.Errorf("%+v", got)
	}
	st := webtest.Into[shop.Setup](a.Send("POST", "/setups", api.SetupNew{Kind: "floor", Name: "Late", TOML: smallShift}).OK(201))
	a.Send("PUT", "/setups/"+st.ID, api.SetupNew{Kind: "floor", Name: "Later", TOML: smallShift, Base: 1}).OK(200)
	a.Send("PUT", "/setups/"+st.ID, api.SetupNew{Kind: "floor", Name: "Latest", TOML: smallShift, Base: 1}).Fails(409, shop.Conflict, "version 2")
	a.Send("GET", "/setups/"+st.ID, nil).OK(200)
	a.Send("GET", "/setups?kind=floor", nil).OK(200)
	a.Send("POST", "/setups/check", api.SetupCheck{Kind: "floor", TOML: smallShift}).OK(204)
	l := webtest.Into[shop.List](a.Send("POST", "/lists", api.ListNew{Of: "orders", Name: "Late", Query: "state=sewing&sort="}).OK(201))
	a.Send("PUT", "/lists/"+l.ID, api.ListName{Name: "At work"}).OK(200)
	if all := webtest.Into[api.ListPage](a.Send("GET", "/lists", nil).OK(200)); len(all.Lists) != 1 || all.Lists[0].Name != "At work" || all.Lists[0].Query != "state=sewing" {
		t.Errorf("%+v", all)
	}
	a.Send("DELETE", "/lists/"+l.ID, nil).OK(204)
	r, w := webtest.ResultOf[ask.ShiftAnswer](a.Finish(a.Send("POST", "/floor", api.SimAsked{Setup: st.ID, Precision: 0.05, WhatIf: true}), "Shift"))
	if r.Pieces.Mean <= 0 || len(r.Machines) != 1 || len(r.Crews) == 0 {
		t.Errorf("%+v", r)
	}
	a.Send("DELETE", "/work/"+w.ID, nil).OK(204)
	a.Send("DELETE", "/setups/"+st.ID, nil).OK(204)
	a.Send("POST", "/demo", nil).Fails(409, shop.Conflict, "things of its own")
	b := webtest.New(t, web.Options{})
	b.Finish(b.Send("POST", "/demo", nil), "")
	b.Finish(b.Send("POST", "/demo", nil), "") // a load that broke off may be repeated
	if st := webtest.Into[api.Status](b.Send("GET", "/status", nil).OK(200)); st.Designs != 10 || st.Machines != 3 {
		t.Errorf("demo shop: %+v", st)
	}
	mixes := webtest.Into[api.SetupPage](b.Send("GET", "/setups?kind=mix", nil).OK(200))
	if len(mixes.Setups) != 1 {
		t.Fatalf("%d mixes", len(mixes.Setups))
	}
	k, _ := webtest.ResultOf[ask.ComparisonAnswer](b.Finish(b.Send("POST", "/compare", api.SimAsked{Setup: mixes.Setups[0].ID, Weeks: 20}), "Comparison"))
	if len(k.Machines) < 2 || len(k.Designs) == 0 {
		t.Errorf("%+v", k)
	}
	p := webtest.Into[serve.DesignPage](b.Send("GET", "/designs?times=1&sort=name&limit=3", nil).OK(200))
	if len(p.Designs) != 3 || len(p.Designs[0].Times) != 3 || p.Designs[0].Times[0].Seconds <= 0 || p.Total != 10 {
		t.Errorf("%+v", p)
	}
	one := webtest.Into[ask.ClockAnswer](b.Send("GET", "/designs/"+p.Designs[0].ID+"/clock?machine="+p.Machines[1].ID, nil).OK(200))
	if one.Seconds != p.Designs[0].Times[1].Seconds || one.Interval != p.Designs[0].Times[1].Interval {
		t.Errorf("the list says %+v, the design's page %+v", p.Designs[0].Times[1], one.Interval)
	}
	a.Send("GET", "/api/openapi.json", nil).OK(200)
	a.Send("GET", "//healthz", nil).OK(200)
	a.Send("GET", "//healthz?at=1700000000", nil).OK(200) // what watches may add what it likes
}

func accountOperations(a *webtest.App) {
	ac := webtest.Into[shop.Account](a.Send("POST", "/accounts", api.AccountNew{Name: "Ada", Role: "owner", Password: "correct horse"}).OK(201))
	a.Send("PUT", "/accounts/"+ac.ID, api.AccountChange{Role: "owner", Password: "battery staple"}).OK(200)
	a.Send("GET", "/accounts", nil).OK(200)
	a.Send("GET", "/session", nil).OK(200)
	a.Send("DELETE", "/session", nil).OK(204)
	b := webtest.New(a.T, web.Options{Accounts: true})
	b.Account("Ada", shop.Owner)
	b.Send("POST", "/session", api.SignInAsked{"ada", webtest.Password}).OK(200)
}

func TestTheRunInBinaryIsTheRunOfTheClock(t *testing.T) {
	a := webtest.New(t, web.Options{})
	const file = "harbour-jacket-back.dst" // of more stitches than one piece has
	d := a.DemoDesign(file)
	design, err := stitchfile.Decode(webtest.DemoFile(t, file), "x.dst")
	if err != nil {
		t.Fatal(err)
	}
	sheet, _ := machine.Class("compact-8")
	tr := clock.New(sheet, clock.Job{Speed: 700}).Trace(design)
	segs := picture.Sewn(design, sheet.Reading.TrimAfterJumps)
	le := binary.LittleEndian
	var records []int // of the revolutions
	for k := range design.Records {
		if tr.Seconds[k] > 0 {
			records = append(records, k)
		}
	}
	if len(records) != len(segs) || len(segs) <= 20_000 {
		t.Fatalf("%d revolutions, %d segments", len(records), len(segs))
	}
	at, pieces := 0, 0
	for ; at < len(segs); pieces++ {
		b := a.Send("GET", fmt.Sprintf("/designs/%s/run.bin?machine=compact-8&speed=700&first=%d", d.ID, at), nil).OK(200).Body
		n := int(le.Uint32(b[12:]))
		if string(b[:4]) != "NPR2" || int(le.Uint32(b[4:])) != len(segs) || int(le.Uint32(b[8:])) != at || n < 1 || n > 20_000 || len(b) != 16+n*38 {
			t.Fatalf("from %d: %d of %d in %d bytes, want %d", at, n, le.Uint32(b[4:]), len(b), len(segs))
		}
		for i := range n {
			k, seg := records[at+i], segs[at+i]
			x1 := int32(le.Uint32(b[16+16*i+8:]))
			layer := int32(le.Uint32(b[16+16*n+4*i:]))
			speed := math.Float32frombits(le.Uint32(b[16+20*n+4*i:]))
			start := math.Float64frombits(le.Uint64(b[16+24*n+8*i:]))
			most := math.Float32frombits(le.Uint32(b[16+32*n+4*i:]))
			held := clock.Bound(b[16+37*n+i])
			if x1 != seg.X1 || layer != seg.Layer || speed != float32(tr.Speed(k)) || start != tr.Starts[k] ||
				most != float32(tr.Cap(k)) || held != tr.HeldBy(k) {
				t.Fatalf("segment %d: %d %d %v %v %v %v, want %+v %v %v %v %v", at+i, x1, layer, speed, start, most, held,
					seg, tr.Speed(k), tr.Starts[k], tr.Cap(k), tr.HeldBy(k))
			}
		}
		at += n
	}
	if pieces != (len(segs)+19_999)/20_000 {
		t.Errorf("%d stitches came in %d pieces", len(segs), pieces)
	}
	if b := a.Send("GET", fmt.Sprintf("/designs/%s/run.bin?machine=compact-8&first=%d", d.ID, len(segs)+7), nil).OK(200).Body; len(b) != 16 {
		t.Errorf("past the end there are %d bytes", len(b))
	}
	a.Send("GET", "/designs/"+d.ID+"/run.bin?machine=compact-8&first=-1", nil).Fails(422, shop.Invalid, "first")
}

// The description and the mux have the same operations: what the description
// has is served, and nothing under /api/ is served that it has not.
func TestTheDescriptionHasEveryRouteAndNoOther(t *testing.T) {
	a := webtest.New(t, web.Options{})
	var doc struct {
		OpenAPI string                                `json:"openapi"`
		Paths   map[string]map[string]json.RawMessage `json:"paths"`
	}
	if err := json.Unmarshal(api.Description(), &doc); err != nil || doc.OpenAPI != "3.1.0" {
		t.Fatalf("%v, %q", err, doc.OpenAPI)
	}
	described := map[string]bool{}
	for path, ops := range doc.Paths {
		for m := range ops {
			described[strings.ToUpper(m)+" "+path] = true
			req, err := http.NewRequest(strings.ToUpper(m), "http://localhost"+strings.NewReplacer("{", "", "}", "").Replace(path), nil)
			if err != nil {
				t.Fatal(err)
			}
			if pattern := a.Server.Match(req); pattern != strings.ToUpper(m)+" "+path {
				t.Errorf("%s %s is described and served by %q", m, path, pattern)
			}
		}
	}
	names := map[string]bool{}
	for _, rt := range api.Operations() {
		if !described[rt.Method+" "+rt.Path] || names[rt.Name] || rt.Summary == "" {
			t.Errorf("route %s %s is not described, named twice or without a summary", rt.Name, rt.Method+" "+rt.Path)
		}
		names[rt.Name] = true
		if rt.Right != "" && !slices.ContainsFunc(shop.Rights, func(r shop.RightOf) bool { return r.Right == rt.Right }) {
			t.Errorf("route %s needs a right that is not known", rt.Name)
		}
		for _, m := range []string{"GET", "PUT", "POST", "DELETE", "PATCH"} {
			path := strings.NewReplacer("{", "", "}", "").Replace(rt.Path)
			req, _ := http.NewRequest(m, "http://localhost"+path, nil)
			if pattern := a.Server.Match(req); pattern != "/api/" && pattern != "/" && strings.Contains(pattern, "/api/") && !described[pattern] {
				t.Errorf("%s is served and not described", pattern)
			}
		}
	}
}

func TestWorkCanBeCancelledAndTellsHowFarItIs(t *testing.T) {
	a := webtest.New(t, web.Options{})
	w, err := a.Server.Jobs().Begin("slow", "", func(ctx context.Context, st jobs.Step) (any, error) {
		st(0.25, "counting")
		<-ctx.Done()
		return nil, ctx.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if w = webtest.Into[jobs.Work](a.Send("GET", "/work/"+w.ID, nil).OK(200)); w.Progress > 0 {
			break
		}
	}
	if w.State != jobs.Running || w.Progress != 0.25 || w.Text != "counting" {
		t.Errorf("%+v", w)
	}
	a.Send("DELETE", "/work/"+w.ID, nil).OK(204)
	if w = webtest.Into[jobs.Work](a.Send("GET", "/work/"+w.ID+"?wait=5", nil).OK(200)); w.State != jobs.Cancel || w.Error == nil {
		t.Errorf("%+v", w)
	}
	a.Send("GET", "/work/"+w.ID+"/piece.dst", nil).Fails(404, shop.NotFound, "no file")
	a.Send("GET", "/work/nothing", nil).Fails(404, shop.NotFound, "ask for it again")
}

func TestWorkHasATimeLimitAndAQueueOfALength(t *testing.T) {
	a := webtest.New(t, web.Options{LongTime: 300 * time.Millisecond})
	w, err := a.Server.Jobs().Begin("slow", "", func(ctx context.Context, _ jobs.Step) (any, error) { <-ctx.Done(); return nil, ctx.Err() })
	if err != nil {
		t.Fatal(err)
	}
	got := webtest.Into[jobs.Work](a.Send("GET", "/work/"+w.ID+"?wait=5", nil).OK(200))
	if got.State != jobs.Failed || got.Error == nil || got.Error.Code != string(shop.Stopped) || !strings.Contains(got.Error.Text, "longer than 0.3 s") {
		t.Errorf("%+v, %+v", got, got.Error)
	}
	boom, err := a.Server.Jobs().Begin("boom", "", func(context.Context, jobs.Step) (any, error) { panic("no") })
	if err != nil {
		t.Fatal(err)
	}
	if got := webtest.Into[jobs.Work](a.Send("GET", "/work/"+boom.ID+"?wait=5", nil).OK(200)); got.State != jobs.Failed {
		t.Errorf("a panic left work %s", got.State)
	}
	b := webtest.New(t, web.Options{})
	for range jobs.MaxWaiting {
		if _, err := b.Server.Jobs().Begin("slow", "", func(ctx context.Context, _ jobs.Step) (any, error) { <-ctx.Done(); return nil, ctx.Err() }); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.Server.Jobs().Begin("one more", "", nil); shop.CodeOf(err) != shop.Busy {
		t.Errorf("one more than fits: %v", err)
	}
}

func signInOperations(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.SignIn("Ada")
	a.Send("PUT", "/session/password", `{"before":"`+webtest.Password+`","password":"quite another one"}`).OK(204)
	in := webtest.Into[struct {
		SignIns []struct{ ID string } `json:"sign_ins"`
	}](a.Send("GET", "/sign-ins?all=1", nil).OK(200)).SignIns
	token := webtest.Into[struct{ Token struct{ ID string } }](a.Send("POST", "/tokens",
		map[string]any{"name": "till", "role": "operator", "expires": time.Now().AddDate(0, 1, 0)}).OK(201)).Token.ID
	a.Send("POST", "/tokens", map[string]any{"name": "door", "role": "operator"}).Fails(422, shop.Invalid, "expires is missing")
	a.Send("POST", "/tokens", map[string]any{"name": "door", "role": "operator", "expires": "soon"}).Fails(422, shop.Invalid, "expires is no moment")
	a.Send("GET", "/tokens", nil).OK(200)
	a.Send("DELETE", "/tokens/"+token, nil).OK(204)
	a.Send("DELETE", "/sign-ins", nil).OK(204)
	a.Send("DELETE", "/sign-ins/"+in[0].ID, nil).OK(204)
}
