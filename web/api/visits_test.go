package api_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/web/api"
	"needlepace/web/webtest"
)

// A visit with a trial of the shop's own design and machine; what comes back is taken in
// or told, one sentence each; it goes out and comes in as one file.
func visitOperations(a *webtest.App) {
	t := a.T
	v := webtest.Into[shop.Visit](a.Send("POST", "/visits", api.VisitSaid{Name: "Quay", Client: "a client"}).OK(201))
	if set := webtest.Into[shop.Settings](a.Send("GET", "/settings", nil).OK(200)); !set.Visits {
		t.Error("the shop's pages have no visits after the first one")
	}
	at := "/visits/" + v.ID
	a.Send("POST", "/visits", api.VisitSaid{}).Fails(422, shop.Invalid, "the name is missing")
	v = webtest.Into[shop.Visit](a.Send("PUT", at, api.VisitSaid{Name: "Bay", Base: 1}).OK(200))
	a.Send("PUT", at, api.VisitSaid{Name: "Late", Base: 1}).Fails(409, shop.Conflict, "meanwhile")
	a.Send("PUT", at+"/file?name=notes/a.txt", []byte("seen")).OK(204)
	a.Send("PUT", at+"/file?name=../a.txt", []byte("seen")).Fails(422, shop.Invalid, "in none of the folders")
	a.Send("PUT", at+"/file?name=notes/A.txt", []byte("x")).Fails(422, shop.Invalid, "capital letters alone")
	if b := a.Send("GET", at+"/file?name=notes/a.txt", nil).OK(200).Body; string(b) != "seen" {
		t.Errorf("the note is %q", b)
	}
	a.Send("DELETE", at+"/file?name=notes/a.txt", nil).OK(204)
	a.Send("DELETE", at+"/file?name=notes/a.txt", nil).Fails(404, shop.NotFound, "there is no file")

	d, m := a.DemoDesign("whale-line.dst"), a.Machine("single-15-light", "Seen bay")
	toml := fmt.Sprintf("name = \"Bay\"\ncloth = \"twill\"\nthread = \"polyester\"\nneedle = \"75\"\nrepeats = 2\n[[place]]\nname = \"bay\"\n[[design]]\nname = \"whale\"\nfile = \"shop:%s\"\n"+
		"[[machine]]\nname = \"Ours\"\nsheet = \"shop:%s\"\nplace = \"bay\"\nspeed = 700\n[[machine]]\nname = \"Offer\"\nsheet = \"single-15-light\"\nplace = \"bay\"\nspeed = 900\n", d.ID, m)
	a.Send("PUT", at+"/trials/Bay!", api.TrialAsked{TOML: toml}).Fails(422, shop.Invalid, "short name")
	a.Send("PUT", at+"/trials/bay", api.TrialAsked{TOML: strings.Replace(toml, "speed = 900", "speed = 9", 1)}).Fails(422, shop.Invalid, "set speed")
	a.Send("PUT", at+"/trials/bay", api.TrialAsked{TOML: strings.Replace(toml, d.ID, "none", 1)}).Fails(404, shop.NotFound, "no such design")
	a.Send("GET", at+"/trials/bay", nil).Fails(404, shop.NotFound, "there is no trial")
	x := webtest.Into[ask.TrialAnswer](a.Send("PUT", at+"/trials/bay", api.TrialAsked{TOML: toml}).OK(200))
	a.Send("DELETE", "/machines/"+m, nil).OK(204) // the visit has a copy
	var photo bytes.Buffer
	if err := png.Encode(&photo, image.NewNRGBA(image.Rect(0, 0, 1200, 900))); err != nil {
		t.Fatal(err)
	}
	seconds := map[string]float64{}
	for _, c := range x.Cells {
		seconds[c.Machine] = c.Predicted
	}
	sheet := "place,turn,machine,time\n"
	for n := range 4 {
		for _, k := range []string{"Ours", "Offer"} { // the order is drawn: a turn of another machine is told
			sheet += fmt.Sprintf("bay,%d,%s,%.0f\n", n+1, k, seconds[k]*(1+0.002*float64(n)))
		}
	}
	for _, c := range []struct {
		name string
		b    []byte
		says string
	}{
		{"bay-1.png", photo.Bytes(), ""},
		{"bay-2.jpg", []byte("not at all"), "is none that can be read"},
		{"bay.zip", []byte("PK\x03\x04 and no more"), "cannot be opened as a zip"},
		{"film.mov", []byte("x"), "is no sheet (CSV"},
		{"times.xlsx", []byte("PK no workbook"), "times.xlsx"},
		{"times.csv", []byte(sheet), ""},
		{"times.csv", []byte(sheet), "is here already, as times.csv"},
		{"times.csv", []byte(sheet + "bay,1,Ours,9:59\n"), "this one is kept as times (2).csv"},
	} {
		r := webtest.Into[api.ReturnTaken](a.Send("POST", at+"/trials/bay/returns?name="+c.name, c.b).OK(200))
		if got := strings.Join(r.Refused, "; "); c.says == "" && got != "" || !strings.Contains(got, c.says) {
			t.Errorf("%s is told as %q; it should say %q", c.name, got, c.says)
		}
	}
	x = webtest.Into[ask.TrialAnswer](a.Send("GET", at+"/trials/bay", nil).OK(200))
	if x.Used != 4 || len(x.Ranks) != 2 {
		t.Errorf("%d runs are used, ranks %+v, apart %+v", x.Used, x.Ranks, x.Apart)
	}
	if b := a.Send("GET", at+"/trials/bay/packs/bay.zip", nil).OK(200).Body; !bytes.Contains(b, []byte("times-bay.xlsx")) {
		t.Error("the pack has no workbook")
	}
	told := webtest.Into[api.TrialEvidence](a.Send("GET", at+"/trials/bay/evidence", nil).OK(200))
	if len(told.Evidence) != 2 || told.Evidence[0].TOML == "" || strings.Contains(told.Evidence[0].TOML, "Ours") || strings.Contains(told.Evidence[0].TOML, "whale") {
		t.Errorf("the evidence is %+v", told)
	} else {
		a.Send("POST", "/evidence", api.EvidenceNew{TOML: told.Evidence[0].TOML}).OK(201)
		a.Send("POST", "/evidence", api.EvidenceNew{TOML: told.Evidence[0].TOML}).Fails(422, shop.Invalid, "which is here already")
	}
	a.Send("GET", at+"/trials/bay/packs/moon.zip", nil).Fails(404, shop.NotFound, "no pack")
	if b := a.Send("GET", at+"/trials/bay/paper/trial.html", nil).OK(200).Body; !bytes.Contains(b, []byte("shop:")) && !bytes.Contains(b, []byte("../../designs/whale-line.dst")) {
		t.Error("the paper's appendix does not name the design's copy")
	}
	a.Send("GET", at+"/trials/bay/paper/trial.pdf?paper=Letter", nil).OK(200)

	gull := at + "/calls/gull"
	call := fmt.Sprintf("name = \"Gull\"\nadviser = \"a\"\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\ndesign = [{name = \"whale\", file = \"shop:%s\"}]\n", d.ID)
	a.Send("PUT", gull, api.CallAsked{TOML: call + "maker = \"x\"\n"}).Fails(422, shop.Invalid, "maker")
	a.Send("PUT", gull, api.CallAsked{TOML: call}).OK(200)
	a.Send("POST", gull+"/shut", nil).Fails(404, shop.NotFound, "no such page of the call")
	a.Send("POST", gull+"/open", api.CallOpened{}).OK(200)
	a.Send("POST", gull+"/shut", nil).OK(204)
	a.Send("POST", gull+"/entries?name=entry.csv", []byte("class,rated,speed,time\nmulti-6,1000,900,0:30\n")).OK(200)
	if w := webtest.Into[api.WholeCall](a.Send("GET", gull, nil).OK(200)); len(w.Used) != 1 || w.Page == nil || w.Page.Open {
		t.Errorf("the call says %+v, %+v", w.OpenCallAnswer, w.Page)
	}
	a.Send("GET", gull+"/pack.zip", nil).OK(200)
	for _, name := range []string{"calls/gull/CALL.toml", "calls/gull/entries/entry.csv"} {
		a.Send("DELETE", at+"/file?name="+name, nil).OK(204)
	}

	whole := a.Send("GET", at+"/whole.zip", nil).OK(200).Body
	torn := slices.Clone(whole)
	a.Send("POST", "/visits/import", torn[:len(torn)/2]).Fails(422, shop.Invalid, "cut off on its way")
	a.Send("POST", "/visits/import", whole).Fails(409, shop.Conflict, "is here already")
	a.Send("DELETE", at, nil).Fails(409, shop.Conflict, "put the visit away first")
	a.Send("POST", at+"/away", nil).OK(204)
	a.Send("POST", at+"/back", nil).OK(204)
	a.Send("POST", at+"/away", nil).OK(204)
	if p := webtest.Into[api.VisitsPage](a.Send("GET", "/visits?removed=true", nil).OK(200)); len(p.Visits) != 1 {
		t.Errorf("put away: %+v", p.Visits)
	}
	a.Send("DELETE", at, nil).OK(204)
	v = webtest.Into[shop.Visit](a.Send("POST", "/visits/import", whole).OK(201))
	if w := webtest.Into[api.WholeVisit](a.Send("GET", "/visits/"+v.ID, nil).OK(200)); len(w.Trials) != 1 || len(w.Files) != 6 {
		t.Errorf("it came in as %+v", w)
	}
}
