package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"

	"needlepace/picture"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/trial"
)

// visitPages begins a visit with the demo's trial and what came back to it, and gives its
// pages. Photographs are drawings of the designs.
func (a *app) visitPages(ctx context.Context) ([]shot, error) {
	v, err := a.shop.BeginVisit(ctx, "Pellsand Quay, autumn", "Pellsand Quay Stitchery", "Two offers to look at. Keep the cap machine in mind.")
	if err != nil {
		return nil, err
	}
	const folder = "demo/trial"
	b, err := os.ReadFile(filepath.Join(folder, "TRIAL.toml"))
	if err != nil {
		return nil, err
	}
	bring := func(ref string) (string, []byte, error) {
		b, err := os.ReadFile(filepath.Join(folder, ref))
		if err != nil {
			return "", nil, nil //nolint:nilerr // a class
		}
		return filepath.Base(ref), b, nil
	}
	x, err := a.shop.KeepTrial(ctx, v.ID, "autumn", "Ida", b, bring)
	if err != nil {
		return nil, err
	}
	if _, err := a.shop.KeepTrial(ctx, v.ID, "winter", "Ida", bytes.Replace(b, []byte("which machine next"), []byte("in winter"), 1), bring); err != nil {
		return nil, err
	}
	var came []trial.Given
	files, err := filepath.Glob(filepath.Join(folder, "returns", "*"))
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		came = append(came, trial.Given{Name: filepath.Base(f), Bytes: b})
	}
	for _, place := range x.Places {
		for _, t := range place.Turns[:2] {
			b, err := os.ReadFile(filepath.Join("demo/designs", filepath.Base(x.File.Designs[designAt(x.File, t.Design)].File)))
			if err != nil {
				return nil, err
			}
			d, err := stitchfile.Decode(b, t.Design+".dst")
			if err != nil {
				return nil, err
			}
			var png bytes.Buffer
			if err := picture.PNG(&png, picture.SewOutOf(d, 3, t.Design, 500), picture.Light(), 1); err != nil {
				return nil, err
			}
			came = append(came, trial.Given{Name: fmt.Sprintf("%s-%d.png", place.Name, t.Number), Bytes: png.Bytes()})
		}
	}
	if _, err := a.shop.TakeReturns(ctx, v.ID, "autumn", "Ida", came); err != nil {
		return nil, err
	}
	away, err := a.shop.BeginVisit(ctx, "Old harbour", "", "")
	if err != nil {
		return nil, err
	}
	if err := a.shop.Visits.PutAway(ctx, away.ID, true); err != nil {
		return nil, err
	}
	page, err := a.callWithAll(ctx, v.ID)
	if err != nil {
		return nil, err
	}
	at := "/visits/" + v.ID
	return []shot{
		{name: "call", path: at + "/calls/gull"},
		{name: "call-shut", path: at + "/calls/shut"},
		{name: "call-plan", path: at + "/call?call=gull"},
		{name: "called-code", path: "/call"},
		{name: "called", path: "/call/" + page.Code},
		{name: "visits", path: "/visits"},
		{name: "visit", path: at},
		{name: "visit-away", path: "/visits/" + away.ID},
		{name: "trial", path: at + "/trials/autumn"},
		{name: "trial-planned", path: at + "/trials/winter"},
		{name: "trial-plan", path: at + "/plan?trial=autumn"},
		{name: "trial-new", path: at + "/plan"},
		{name: "trial-grade", path: at + "/trials/autumn/grade?grader=Ida", first: `document.querySelectorAll("details:not(.takeaway)").forEach(d => d.open = true)`},
	}, nil
}

// callWithAll keeps the demo's open call in a visit, with what came and its page open, and
// another whose page is shut.
func (a *app) callWithAll(ctx context.Context, visit string) (*shop.CallPage, error) {
	const folder = "demo/call"
	b, err := os.ReadFile(filepath.Join(folder, "CALL.toml"))
	if err != nil {
		return nil, err
	}
	bring := func(ref string) (string, []byte, error) {
		b, err := os.ReadFile(filepath.Join(folder, ref))
		return filepath.Base(ref), b, err
	}
	for _, name := range []string{"gull", "shut"} {
		if _, err := a.shop.KeepCall(ctx, visit, name, "Ida", b, bring); err != nil {
			return nil, err
		}
	}
	sheet, err := os.ReadFile(filepath.Join(folder, "entries", "entry.csv"))
	if err != nil {
		return nil, err
	}
	if _, err := a.shop.TakeEntries(ctx, visit, "gull", "Ida", []trial.Given{{Name: "entry.csv", Bytes: sheet}}); err != nil {
		return nil, err
	}
	if _, err := a.shop.OpenCall(ctx, visit, "gull"); err != nil { // seen, so that its page shows it
		return nil, err
	}
	return a.shop.Visits.OpenCallPage(ctx, visit, "gull", 0)
}

func designAt(f *trial.File, name string) int {
	for i, d := range f.Designs {
		if d.Name == name {
			return i
		}
	}
	return 0
}
