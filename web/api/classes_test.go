package api_test

import (
	"io/fs"
	"strings"
	"testing"

	"needlepace/demo"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/web/api"
	"needlepace/web/webtest"
)

// shared are learned sheets that other invented shops exported.
func shared(t testing.TB) (tomls []string) {
	t.Helper()
	files, err := fs.Glob(demo.FS, "shared/*.toml")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d sheets of other shops: %v", len(files), err)
	}
	for _, f := range files {
		b, err := fs.ReadFile(demo.FS, f)
		if err != nil {
			t.Fatal(err)
		}
		tomls = append(tomls, string(b))
	}
	return tomls
}

// The evidence of other shops is taken in, pooled, kept; a machine starts from
// the class; a learned machine's sheet goes out with nothing of the shop.
func classOperations(a *webtest.App) {
	t := a.T
	var ids []string
	for _, toml := range shared(t)[:4] {
		e := webtest.Into[api.EvidenceListed](a.Send("POST", "/evidence", api.EvidenceNew{TOML: toml}).OK(201))
		ids = append(ids, e.ID)
	}
	a.Send("POST", "/evidence", api.EvidenceNew{TOML: shared(t)[0]}).Fails(422, shop.Invalid, "is here already")
	spoilt := strings.Replace(shared(t)[4], "\ntrim = ", "\ntrim = 1", 1)
	a.Send("POST", "/evidence", api.EvidenceNew{TOML: spoilt}).Fails(422, shop.Invalid, "changed after it was learned")
	if p := webtest.Into[api.EvidencePage](a.Send("GET", "/evidence", nil).OK(200)); len(p.Evidence) != 4 {
		t.Errorf("%+v", p)
	}
	x := webtest.Into[api.PooledAnswer](a.Send("POST", "/classes", api.PoolAsked{Evidence: ids}).OK(200))
	if x.Machines != 4 || x.Shops != 2 || x.Kept != nil || len(x.Constants) < 10 || len(x.Members) != 4 {
		t.Errorf("%+v", x.PoolAnswer)
	}
	a.Send("POST", "/classes", api.PoolAsked{}).Fails(422, shop.Invalid, "name learned sheets")
	x = webtest.Into[api.PooledAnswer](a.Send("POST", "/classes", api.PoolAsked{Evidence: ids[:3], Keep: true}).OK(200))
	if p := webtest.Into[api.ClassPage](a.Send("GET", "/classes", nil).OK(200)); len(p.Made) != 1 || p.Made[0] != *x.Kept ||
		x.Kept.Machines != 3 {
		t.Fatalf("%+v", p.Made)
	}
	a.Send("GET", "/classes/"+x.Kept.ID, nil).OK(200)

	// A machine that begins with it, and one that is given it and keeps what was measured.
	m := webtest.Into[api.MachineAnswer](a.Send("POST", "/machines", api.MachineNew{Class: x.Kept.ID, Name: "New"}).OK(201))
	if m.Sheet.Pool == nil || m.Sheet.Pool.Machines != 3 || m.Name != "New" || m.Sheet.Fit != nil {
		t.Errorf("%+v", m.Sheet.Pool)
	}
	old := a.Machine("compact-8", "Old")
	was := webtest.Into[api.MachineAnswer](a.Send("GET", "/machines/"+old, nil).OK(200))
	measured, err := machine.Parse("old", []byte(was.Sheet.TOML))
	if err != nil {
		t.Fatal(err)
	}
	measured.Rest.Trim, measured.BasisOf["rest.trim"], measured.SD["rest.trim"] = 2.5, machine.Measured, 0.05
	a.Send("PUT", "/machines/"+old, api.SheetChange{Base: 1, TOML: string(measured.TOML())}).OK(200)
	m = webtest.Into[api.MachineAnswer](a.Send("POST", "/machines/"+old+"/start", api.StartAsked{Class: x.Kept.ID}).OK(200))
	now, err := machine.Parse("now", []byte(m.Sheet.TOML))
	if err != nil {
		t.Fatal(err)
	}
	if m.Version != 3 || now.Rest.Trim != 2.5 || now.SD["rest.trim"] != 0.05 || now.Rest.ColourStop == measured.Rest.ColourStop ||
		now.BasisOf["rest.colour_stop"] != machine.Pooled || now.Name != "Old" {
		t.Errorf("version %d: %+v", m.Version, now.Rest)
	}
	other := a.Machine("multi-6", "Six")
	a.Send("POST", "/machines/"+other+"/start", api.StartAsked{Class: x.Kept.ID}).Fails(422, shop.Invalid, "its own class")

	// A learned sheet goes out; it does not come back in.
	a.Send("GET", "/machines/"+old+"/evidence.toml", nil).Fails(422, shop.Invalid, "is a class already")
	learned, err := machine.Parse("learned", []byte(shared(t)[4]))
	if err != nil {
		t.Fatal(err)
	}
	learned.Name = "Anna"
	a.Send("PUT", "/machines/"+old, api.SheetChange{Base: 3, TOML: string(learned.TOML())}).OK(200)
	out, err := machine.Parse("out", a.Send("GET", "/machines/"+old+"/evidence.toml", nil).OK(200).Body)
	if err != nil || learn.CheckEvidence(out) != "" || strings.Contains(string(out.TOML()), "Anna") || out.Fit.Evidence.Shop == "" {
		t.Errorf("%v %s", err, learn.CheckEvidence(out))
	}
	a.Send("POST", "/evidence", api.EvidenceNew{TOML: string(out.TOML())}).Fails(422, shop.Invalid, "your own shop exported")

	a.Send("DELETE", "/evidence/"+ids[3], nil).OK(204)
	a.Send("DELETE", "/classes/"+x.Kept.ID, nil).OK(204)
	a.Send("POST", "/machines", api.MachineNew{Class: x.Kept.ID, Name: "x"}).Fails(422, shop.Invalid, "no machine class")
}
