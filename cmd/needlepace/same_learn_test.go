package main

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/web/webtest"
)

func mustParse(t *testing.T, address string) *url.URL {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// runs are timed runs of the demo's Skipper, in the order of their days, as the
// shop has them.
const runs = `date,design,set_speed,block,seconds,shown_speed,length_mm,stitch,error,note
2026-01-14,skipper-piece.dst,800,,384,,,,,
2026-01-14,skipper-piece.dst,800,1,51.7,,,,,
2026-01-14,skipper-piece.dst,800,3,80.8,,,,,
2026-01-14,skipper-piece.dst,800,4,49.9,,,,,
2026-01-14,skipper-piece.dst,800,7,11.7,,,,,
2026-01-14,,800,,,580,9,zigzag,,block 1 of the piece
2026-01-15,whale-line.dst,800,,26,,,,,
`

// timed puts the runs and their designs into a folder and into the shop.
func (d *demoServed) timed() {
	d.t.Helper()
	for _, file := range []string{"runs/skipper-piece.dst", "designs/whale-line.dst"} {
		b, err := os.ReadFile(filepath.Join("../../demo", file))
		if err == nil {
			err = os.WriteFile(filepath.Join(d.dir, filepath.Base(file)), b, 0o600)
		}
		if err != nil {
			d.t.Fatal(err)
		}
		if strings.HasPrefix(file, "runs/") {
			d.app.Upload(map[string][]byte{filepath.Base(file): b}).OK(http.StatusCreated)
		}
	}
	if err := os.WriteFile(filepath.Join(d.dir, "runs.csv"), []byte(runs), 0o600); err != nil {
		d.t.Fatal(err)
	}
	d.app.Send("POST", "/machines/"+d.machines["Skipper"]+"/runs.csv", strings.NewReader(runs),
		"Content-Type", "text/csv").OK(http.StatusCreated)
	type listed struct {
		ID string `json:"id"`
	}
	for _, e := range webtest.Into[struct{ Evidence []listed }](d.app.Send("GET", "/evidence", nil).OK(http.StatusOK)).Evidence {
		d.evidence = append(d.evidence, e.ID)
	}
	// Gannet's runs of the day on which the shop has its sheet: they score it.
	var runs []string
	for k, seconds := range []int{331, 335, 330, 340, 329, 333} {
		runs = append(runs, fmt.Sprintf(`{"design":"%s","date":"2026-03-01","set_speed":%d,"seconds":%d,"step":1}`,
			d.design([]string{"ostrel-light.dst", "gull-cap.dst"}[k%2]), 800+10*k, seconds))
	}
	d.app.Send("POST", "/machines/"+d.machines["Gannet"]+"/runs",
		strings.NewReader(`{"runs":[`+strings.Join(runs, ",")+`]}`), "Content-Type", "application/json").
		OK(http.StatusCreated)
}

// learnQuestions are a test piece, and what the timed runs of a machine tell.
func learnQuestions(d *demoServed) []asked {
	const gannet, skipper = "../../demo/shop/gannet.toml", "../../demo/shop/skipper.toml"
	none := map[string]string{"csv": oneAnswer, "xlsx": noWorkbook, "pdf": noPaper}
	piece := filepath.Join(d.dir, "piece.dst")
	at := "/machines/" + d.machine(gannet) + "/testpiece"
	learn := "/machines/" + d.machine(skipper) + "/learn"
	return []asked{{
		name: "test piece", of: []string{"TestPiece"},
		command: []string{"testpiece", "-m", gannet, "-o", piece}, post: at, body: "{}",
		page: at, form: form{"x": "100", "y": "100"},
		tables: map[string][]string{"blocks": nil, "spread": nil},
		shown:  largely("seconds"), headline: largely("seconds"),
		differs: []string{"files"}, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			work := mustParse(t, a.page).Query().Get("work")
			sameFile(t, "the test piece", piece, d.file("/api/v1/work/"+work+"/piece.dst"))
		},
	}, {
		name: "learn", of: []string{"Learn"},
		command: []string{"learn", "-m", skipper, "--try", "--all", filepath.Join(d.dir, "runs.csv")},
		post:    learn, body: "{}",
		page: learn, form: form{},
		tables: map[string][]string{"learned": nil, "runs": nil},
		// The file's rows have lines and paths, the shop's have IDs and names.
		differs: []string{"runs", "sheet", "toml", "version", "rows.row", "rows.run", "rows.what", "rows.design",
			"next.what", "warnings"},
		figures: func(table string, row []string) []string {
			if table == "runs" {
				row = row[2:] // the row's number, and the design by its name
			}
			return row
		},
		not: none,
	}, {
		name: "score", of: []string{"Score"},
		command: d.shop("machines", "score", "Gannet"),
		get:     "/machines/" + d.machine(gannet) + "/score",
		page:    "/machines/" + d.machine(gannet),
		tables:  map[string][]string{"score": d.shop("machines", "score", "Gannet", "--csv")},
		shown:   func(map[string]any) []string { return []string{"the last 6 runs"} },
		not:     map[string]string{"xlsx": noWorkbook, "pdf": noPaper},
	}, {
		name: "pool", of: []string{"Pool"},
		command: []string{"machines", "pool", "../../demo/shared"},
		post:    "/classes", body: `{"evidence":["` + strings.Join(d.evidence, `","`) + `"]}`,
		page:   "/classes?evidence=" + strings.Join(d.evidence, "&evidence="),
		tables: map[string][]string{"class": nil, "members": nil, "terms": nil},
		shown:  func(map[string]any) []string { return []string{"from 5 machines of 2 shops"} },
		// Files have names, the shop's sheets of others have IDs.
		differs: []string{"sheet", "toml", "kept", "members.sheet"}, not: none,
		figures: func(table string, row []string) []string {
			if table == "members" {
				row = row[1:]
			}
			return row
		},
	}}
}
