package web

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/report"
	"needlepace/shop"
	"needlepace/stitchfile"
)

// Every operation once on a small shop, each answer against its description.
func TestEveryOperation(t *testing.T) {
	a := newApp(t, Options{Version: "1.2.3"})
	if st := into[status](a.send("GET", "/status", nil).ok(200)); !st.Empty || st.Version != "1.2.3" || st.Role != "owner" {
		t.Errorf("a new shop: %+v", st)
	}
	a.designOperations()
	a.machineOperations()
	a.timingOperations()
	a.shopOperations()
	a.logoOperations()
	a.accountOperations()
	for _, rt := range routes() {
		if _, ok := seen.Load(rt.pattern()); !ok {
			t.Errorf("no test had a good answer of %s (%s)", rt.name, rt.pattern())
		}
	}
}

func (a *app) designOperations() {
	t := a.t
	d := a.demoDesign("gull-cap.dst")
	again := into[addedPage](a.upload(map[string][]byte{"other name.dst": demoFile(t, "gull-cap.dst")}).ok(200))
	if again.Added[0].New || again.Added[0].Design.ID != d.ID {
		t.Errorf("the same bytes under another name: %+v", again.Added[0])
	}
	one := into[designOne](a.send("GET", "/designs/"+d.ID, nil).ok(200))
	if one.Stitches != d.Stitches || one.Name == "" {
		t.Errorf("%+v", one)
	}
	a.send("PUT", "/designs/"+d.ID, shop.Description{Name: "Gull", Customer: "Gull & Ladle", Threads: []shop.Thread{{Name: "sound blue", Colour: "#2c70ac"}}}).ok(200)
	thumb := a.send("GET", "/designs/"+d.ID+"/thumb.png?theme=dark", nil).ok(200)
	if !strings.HasPrefix(string(thumb.body), "\x89PNG") {
		t.Errorf("thumb is %.20q", thumb.body)
	}
	a.send("GET", "/designs/"+d.ID+"/thumb.png?theme=dark", nil, "If-None-Match", thumb.header.Get("ETag")).ok(304)
	file := a.send("GET", "/designs/"+d.ID+"/file", nil).ok(200)
	if string(file.body) != string(demoFile(t, "gull-cap.dst")) || !strings.Contains(file.header.Get("Content-Disposition"), `filename="gull-cap.dst"`) {
		t.Errorf("the file came back changed, or as %s", file.header.Get("Content-Disposition"))
	}
	a.send("DELETE", "/designs/"+d.ID, nil).ok(204)
	if p := into[designPage](a.send("GET", "/designs?removed=true", nil).ok(200)); p.Total != 1 {
		t.Errorf("removed designs: %+v", p)
	}
	a.send("POST", "/designs/"+d.ID+"/restore", nil).ok(204)

	k := into[report.Clock](a.send("GET", "/designs/"+d.ID+"/clock?machine=single-15-light&cap_frame=1&needles=2,3,4,5", nil).ok(200))
	if k.SetSpeed != clock.CapFrameSpeed || k.Blocks[0].Needle != 2 || k.Interval.Low >= k.Seconds || k.Interval.High <= k.Seconds || len(k.Sweep) == 0 || k.KneeSpeed == 0 || len(k.Why) == 0 {
		t.Errorf("%+v", k)
	}
	a.send("GET", "/designs/"+d.ID+"/rests?machine=single-15-light", nil).ok(200)
	svg := a.send("GET", "/designs/"+d.ID+"/run.svg?machine=single-15-light&theme=page", nil).ok(200)
	if !strings.Contains(string(svg.body), "<svg") {
		t.Errorf("%.100s", svg.body)
	}
	a.send("GET", "/designs/"+d.ID+"/run.png?machine=single-15-light", nil).ok(200)
	a.send("GET", "/designs/"+d.ID+"/run.bin?machine=single-15-light", nil).ok(200)
	r, _ := resultOf[auditAnswer](a.finish(a.send("POST", "/designs/"+d.ID+"/audit", auditAsked{jobAsked: jobAsked{Machine: "single-15-light"}, Pieces: 24, HoopX: 100, HoopY: 100}), "Audit"))
	if r.Seconds <= 0 || r.Stitches != d.Stitches {
		t.Errorf("%+v", r)
	}
}

func (a *app) machineOperations() {
	t := a.t
	if c := into[classPage](a.send("GET", "/classes", nil).ok(200)); len(c.Classes) != len(machine.Classes()) {
		t.Errorf("%+v", c)
	}
	a.send("GET", "/classes/compact-8", nil).ok(200)
	id := a.machine("single-15-light", "Bay 2")
	m := into[machineAnswer](a.send("GET", "/machines/"+id, nil).ok(200))
	if m.Name != "Bay 2" || m.Version != 1 || len(m.Sheet.Constants) != len(machine.Constants) {
		t.Errorf("%+v", m)
	}
	a.send("GET", "/machines", nil).ok(200)
	toml := strings.Replace(m.Sheet.TOML, "\nmax_speed = 1000", "\nmax_speed = 900", 1)
	m = into[machineAnswer](a.send("PUT", "/machines/"+id, sheetChange{Base: 1, TOML: toml, Note: "slower"}).ok(200))
	if m.Version != 2 || m.MaxSpeed != 900 {
		t.Errorf("%+v", m.Machine)
	}
	a.send("PUT", "/machines/"+id, sheetChange{Base: 1, TOML: toml}).fails(409, shop.Conflict, "version 2")
	m = into[machineAnswer](a.send("POST", "/machines/"+id+"/undo", undoAsked{Base: 2}).ok(200))
	if m.Version != 3 || m.MaxSpeed != 1000 {
		t.Errorf("undone: %+v", m.Machine)
	}
	a.send("POST", "/machines/"+id+"/undo", undoAsked{Base: 3}).fails(422, shop.Invalid, "nothing to undo")
	m = into[machineAnswer](a.send("POST", "/machines/"+id+"/undo", undoAsked{Base: 3, To: 2}).ok(200))
	h := into[historyAnswer](a.send("GET", "/machines/"+id+"/history", nil).ok(200))
	if m.MaxSpeed != 900 || len(h.Versions) != 4 || h.Versions[0].Origin != shop.Undone {
		t.Errorf("%+v, %+v", m.Machine, h)
	}
	sheet := a.send("GET", "/machines/"+id+"/sheet.toml", nil).ok(200)
	if _, err := machine.Parse("sheet", sheet.body); err != nil {
		t.Error(err)
	}
	a.send("DELETE", "/machines/"+id, nil).ok(204)
	a.send("POST", "/machines/"+id+"/restore", nil).ok(204)
	a.send("GET", "/machines/"+id+"/law", nil).ok(200)
	a.send("GET", "/machines/"+id+"/law.svg", nil).ok(200)
}

func (a *app) timingOperations() {
	t := a.t
	d := a.demoDesign("whale-line.dst")
	id := a.machine("single-15-light", "Bay 3")
	runs := runsNew{[]runNew{
		{DesignID: d.ID, SetSpeed: 800, Seconds: 400, Step: 1, Date: "2026-01-05"},
		{SetSpeed: 1000, Shown: 880, LengthMM: 3, Date: "2026-01-05"},
	}}
	got := into[runPage](a.send("POST", "/machines/"+id+"/runs", runs).ok(201))
	a.send("DELETE", "/runs/"+got.Runs[0].ID, nil).ok(204)
	csv := "design,set_speed,seconds\nwhale-line.dst,700,7:05\n"
	if r := into[runsRead](a.send("POST", "/machines/"+id+"/runs.csv", strings.NewReader(csv), "Content-Type", "text/csv").ok(201)); len(r.Runs) != 1 || r.Runs[0].Seconds != 425 || r.Runs[0].DesignID != d.ID {
		t.Errorf("%+v", r)
	}
	tm := timingNew{MachineID: id, DesignID: d.ID, SetSpeed: 800, Started: "2026-02-03T04:05:06Z", Marks: []shop.Mark{{Kind: shop.MarkStart}}, Rev: 1}
	a.send("PUT", "/timings/phone-0001", tm).ok(200)
	a.send("PUT", "/timings/phone-0001", tm).ok(200)
	tm.Marks, tm.Rev = append(tm.Marks, shop.Mark{Kind: shop.MarkEnd, AtMS: 401_250}), 2
	a.send("POST", "/timings/phone-0001/finish", nil).fails(422, shop.Invalid, "no end yet")
	a.send("PUT", "/timings/phone-0001", tm).ok(200)
	if p := into[timingPage](a.send("GET", "/timings?open=1&machine="+id, nil).ok(200)); len(p.Timings) != 1 {
		t.Errorf("%+v", p)
	}
	if k := into[shop.Timing](a.send("GET", "/timings/phone-0001", nil).ok(200)); len(k.Marks) != 2 {
		t.Errorf("%+v", k)
	}
	r := into[runPage](a.send("POST", "/timings/phone-0001/finish", nil).ok(201))
	if len(r.Runs) != 1 || r.Runs[0].Seconds != 401.25 || r.Runs[0].Date != "2026-02-03" {
		t.Errorf("%+v", r)
	}
	a.send("POST", "/timings/phone-0001/finish", nil).fails(409, shop.Conflict, "finished")
	if all := into[runPage](a.send("GET", "/machines/"+id+"/runs", nil).ok(200)); len(all.Runs) != 3 {
		t.Errorf("%d runs", len(all.Runs))
	}
	a.send("DELETE", "/timings/phone-0001", nil).ok(204)
	l, _ := resultOf[learnedAnswer](a.finish(a.send("POST", "/machines/"+id+"/learn", learnAsked{Keep: true}), "Learned"))
	if l.Version != 2 || l.Used == 0 || l.Rows[0].RunID == "" {
		t.Errorf("%+v", l)
	}
	if law := into[lawAnswer](a.send("GET", "/machines/"+id+"/law", nil).ok(200)); law.Before == nil || len(law.Readings) != 1 {
		t.Errorf("law: %+v", law.Readings)
	}
	again, _ := resultOf[learnedAnswer](a.finish(a.send("POST", "/machines/"+id+"/learn", learnAsked{}), "Learned"))
	for i, k := range again.Constants {
		if k != l.Constants[i] {
			t.Errorf("learning twice counted the runs twice: %+v, %+v", k, l.Constants[i])
		}
	}
	p, w := resultOf[pieceAnswer](a.finish(a.send("POST", "/machines/"+id+"/testpiece", pieceAsked{HoopX: 100, HoopY: 100, Minutes: 4}), "Piece"))
	if len(p.Files) != 5 || p.Stitches == 0 {
		t.Errorf("%+v", p)
	}
	dst := a.send("GET", "/work/"+w.ID+"/piece.dst", nil).ok(200)
	if pd, err := stitchfile.DecodeBytes(dst.body, "piece.dst"); err != nil || pd.Count().Stitches != p.Stitches {
		t.Errorf("the test piece's file: %v", err)
	}
	m, mw := resultOf[mendAnswer](a.finish(a.send("POST", "/designs/"+d.ID+"/mend", mendAsked{jobAsked: jobAsked{Machine: id}, Seconds: 1, Keep: true}), "Mend"))
	mended := a.send("GET", "/work/"+mw.ID+"/mended", nil).ok(200)
	if md, err := stitchfile.DecodeBytes(mended.body, m.File); err != nil || md.Count().Stitches != m.After.Stitches || m.After.Seconds > m.Before.Seconds || !m.Proof.Same || m.Design == "" {
		t.Errorf("mended: %+v, %v", m, err)
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

func (a *app) shopOperations() {
	t := a.t
	set := into[shop.Settings](a.send("GET", "/settings", nil).ok(200))
	set.Length, set.ShopName = "inch", "Needle & <Thread>"
	if got := into[shop.Settings](a.send("PUT", "/settings", set).ok(200)); got != set {
		t.Errorf("%+v", got)
	}
	st := into[shop.Setup](a.send("POST", "/setups", setupNew{Kind: "floor", Name: "Late", TOML: smallShift}).ok(201))
	a.send("PUT", "/setups/"+st.ID, setupNew{Kind: "floor", Name: "Later", TOML: smallShift, Base: 1}).ok(200)
	a.send("PUT", "/setups/"+st.ID, setupNew{Kind: "floor", Name: "Latest", TOML: smallShift, Base: 1}).fails(409, shop.Conflict, "version 2")
	a.send("GET", "/setups/"+st.ID, nil).ok(200)
	a.send("GET", "/setups?kind=floor", nil).ok(200)
	a.send("POST", "/setups/check", setupCheck{Kind: "floor", TOML: smallShift}).ok(204)
	r, w := resultOf[report.Shift](a.finish(a.send("POST", "/floor", simAsked{Setup: st.ID, Precision: 0.05, WhatIf: true}), "Shift"))
	if r.Pieces.Mean <= 0 || len(r.Machines) != 1 || len(r.Crews) == 0 {
		t.Errorf("%+v", r)
	}
	a.send("DELETE", "/work/"+w.ID, nil).ok(204)
	a.send("DELETE", "/setups/"+st.ID, nil).ok(204)
	a.send("POST", "/demo", nil).fails(409, shop.Conflict, "things of its own")
	b := newApp(t, Options{})
	b.finish(b.send("POST", "/demo", nil), "")
	b.finish(b.send("POST", "/demo", nil), "") // a load that broke off may be repeated
	if st := into[status](b.send("GET", "/status", nil).ok(200)); st.Designs != 10 || st.Machines != 3 {
		t.Errorf("demo shop: %+v", st)
	}
	mixes := into[setupPage](b.send("GET", "/setups?kind=mix", nil).ok(200))
	if len(mixes.Setups) != 1 {
		t.Fatalf("%d mixes", len(mixes.Setups))
	}
	k, _ := resultOf[report.Comparison](b.finish(b.send("POST", "/compare", simAsked{Setup: mixes.Setups[0].ID, Weeks: 20}), "Comparison"))
	if len(k.Machines) < 2 || len(k.Designs) == 0 {
		t.Errorf("%+v", k)
	}
	p := into[designPage](b.send("GET", "/designs?times=1&sort=name&limit=3", nil).ok(200))
	if len(p.Designs) != 3 || len(p.Designs[0].Times) != 3 || p.Designs[0].Times[0].Seconds <= 0 || p.Total != 10 {
		t.Errorf("%+v", p)
	}
	one := into[report.Clock](b.send("GET", "/designs/"+p.Designs[0].ID+"/clock?machine="+p.Machines[1].ID, nil).ok(200))
	if one.Seconds != p.Designs[0].Times[1].Seconds || one.Interval != p.Designs[0].Times[1].Interval {
		t.Errorf("the list says %+v, the design's page %+v", p.Designs[0].Times[1], one.Interval)
	}
	a.send("GET", "/api/openapi.json", nil).ok(200)
	a.send("GET", "//healthz", nil).ok(200)
}

func (a *app) accountOperations() {
	ac := into[shop.Account](a.send("POST", "/accounts", accountNew{Name: "Ada", Role: "owner", Password: "correct horse"}).ok(201))
	a.send("PUT", "/accounts/"+ac.ID, accountChange{Role: "owner", Password: "battery staple"}).ok(200)
	a.send("GET", "/accounts", nil).ok(200)
	a.send("GET", "/session", nil).ok(200)
	a.send("DELETE", "/session", nil).ok(204)
	b := newApp(a.t, Options{Accounts: true})
	b.account("Ada", shop.Owner)
	b.send("POST", "/session", signInAsked{"ada", password}).ok(200)
}

const password = "a long enough password"

func (a *app) account(name string, role shop.Role) *shop.Account {
	a.t.Helper()
	ac, err := a.shop.AddAccount(a.t.Context(), name, password, role)
	if err != nil {
		a.t.Fatal(err)
	}
	return ac
}

func TestTheRunInBinaryIsTheRunOfTheClock(t *testing.T) {
	a := newApp(t, Options{})
	d := a.demoDesign("larkess-ferry.dst")
	b := a.send("GET", "/designs/"+d.ID+"/run.bin?machine=compact-8&speed=700", nil).ok(200).body
	design, err := stitchfile.DecodeBytes(demoFile(t, "larkess-ferry.dst"), "x.dst")
	if err != nil {
		t.Fatal(err)
	}
	sheet, _ := machine.Class("compact-8")
	tr := clock.New(sheet, clock.Job{Speed: 700}).Trace(design)
	segs := picture.Sewn(design, sheet.Reading.TrimAfterJumps)
	le := binary.LittleEndian
	n := int(le.Uint32(b[4:]))
	if string(b[:4]) != "NPR1" || n != len(segs) || len(b) != 8+n*32 {
		t.Fatalf("%d segments in %d bytes, want %d", n, len(b), len(segs))
	}
	i := 0
	for k := range design.Records {
		if tr.Seconds[k] <= 0 {
			continue
		}
		x1 := int32(le.Uint32(b[8+16*i+8:]))
		layer := int32(le.Uint32(b[8+16*n+4*i:]))
		speed := math.Float32frombits(le.Uint32(b[8+20*n+4*i:]))
		start := math.Float64frombits(le.Uint64(b[8+24*n+8*i:]))
		if x1 != segs[i].X1 || layer != segs[i].Layer || speed != float32(tr.Speed(k)) || start != tr.Starts[k] {
			t.Fatalf("segment %d: %d %d %v %v, want %+v %v %v", i, x1, layer, speed, start, segs[i], tr.Speed(k), tr.Starts[k])
		}
		i++
	}
	if i != n {
		t.Errorf("%d revolutions, %d segments", i, n)
	}
}

// The description and the mux have the same operations: what the description
// has is served, and nothing under /api/ is served that it has not.
func TestTheDescriptionHasEveryRouteAndNoOther(t *testing.T) {
	a := newApp(t, Options{})
	var doc struct {
		OpenAPI string                                `json:"openapi"`
		Paths   map[string]map[string]json.RawMessage `json:"paths"`
	}
	if err := json.Unmarshal(a.server.description(), &doc); err != nil || doc.OpenAPI != "3.1.0" {
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
			if _, pattern := a.server.mux.Handler(req); pattern != strings.ToUpper(m)+" "+path {
				t.Errorf("%s %s is described and served by %q", m, path, pattern)
			}
		}
	}
	names := map[string]bool{}
	for _, rt := range routes() {
		if !described[rt.pattern()] || names[rt.name] || rt.summary == "" {
			t.Errorf("route %s %s is not described, named twice or without a summary", rt.name, rt.pattern())
		}
		names[rt.name] = true
		if !rt.open && !rt.need.May(shop.Operator) {
			t.Errorf("route %s needs no role", rt.name)
		}
		for _, m := range []string{"GET", "PUT", "POST", "DELETE", "PATCH"} {
			path := strings.NewReplacer("{", "", "}", "").Replace(strings.TrimPrefix(rt.pattern(), rt.method+" "))
			req, _ := http.NewRequest(m, "http://localhost"+path, nil)
			if _, pattern := a.server.mux.Handler(req); pattern != "/api/" && pattern != "/" && strings.Contains(pattern, "/api/") && !described[pattern] {
				t.Errorf("%s is served and not described", pattern)
			}
		}
	}
}

func TestWorkCanBeCancelledAndTellsHowFarItIs(t *testing.T) {
	a := newApp(t, Options{})
	w, err := a.server.work.begin("slow", "", func(ctx ctxT, st step) (any, error) {
		st(0.25, "counting")
		<-ctx.Done()
		return nil, ctx.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if w = into[Work](a.send("GET", "/work/"+w.ID, nil).ok(200)); w.Progress > 0 {
			break
		}
	}
	if w.State != Running || w.Progress != 0.25 || w.Text != "counting" {
		t.Errorf("%+v", w)
	}
	a.send("DELETE", "/work/"+w.ID, nil).ok(204)
	if w = into[Work](a.send("GET", "/work/"+w.ID+"?wait=5", nil).ok(200)); w.State != Cancel || w.Error == nil {
		t.Errorf("%+v", w)
	}
	a.send("GET", "/work/"+w.ID+"/piece.dst", nil).fails(404, shop.NotFound, "no file")
	a.send("GET", "/work/nothing", nil).fails(404, shop.NotFound, "ask for it again")
}

func TestWorkHasATimeLimitAndAQueueOfALength(t *testing.T) {
	a := newApp(t, Options{LongTime: 30 * time.Millisecond})
	w, err := a.server.work.begin("slow", "", func(ctx ctxT, _ step) (any, error) { <-ctx.Done(); return nil, ctx.Err() })
	if err != nil {
		t.Fatal(err)
	}
	got := into[Work](a.send("GET", "/work/"+w.ID+"?wait=5", nil).ok(200))
	if got.State != Failed || got.Error == nil || got.Error.Code != string(shop.Stopped) || !strings.Contains(got.Error.Text, "longer than 30ms") {
		t.Errorf("%+v, %+v", got, got.Error)
	}
	boom, err := a.server.work.begin("boom", "", func(ctxT, step) (any, error) { panic("no") })
	if err != nil {
		t.Fatal(err)
	}
	if got := into[Work](a.send("GET", "/work/"+boom.ID+"?wait=5", nil).ok(200)); got.State != Failed {
		t.Errorf("a panic left work %s", got.State)
	}
	b := newApp(t, Options{})
	for range maxWaiting {
		if _, err := b.server.work.begin("slow", "", func(ctx ctxT, _ step) (any, error) { <-ctx.Done(); return nil, ctx.Err() }); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.server.work.begin("one more", "", nil); shop.CodeOf(err) != shop.Busy {
		t.Errorf("one more than fits: %v", err)
	}
}
