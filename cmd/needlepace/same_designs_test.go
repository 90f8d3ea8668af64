package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"needlepace/words"
)

// seconds is a figure of an answer as people read it.
func seconds(answer map[string]any, key string) string {
	return words.Seconds(answer[key].(float64)).Text(nil)
}

// largely is a time as the headline of a page.
func largely(key string) func(map[string]any) []string {
	return func(answer map[string]any) []string { return []string{seconds(answer, key)} }
}

// designQuestions are what is asked of a design on a machine.
func designQuestions(d *demoServed) (all []asked) {
	none := map[string]string{"xlsx": noWorkbook, "pdf": noPaper}
	for _, c := range []struct {
		design, machine, query string
		flags                  []string
	}{
		{"ostrel-light.dst", "compact-8", "", nil},
		{"gull-cap.dst", "single-15-light", "&cap_frame=1&heavy=0.8&needles=3,1,4,2",
			[]string{"--cap-frame", "--heavy", "0.8", "--needles", "3,1,4,2"}},
		{"harbour-jacket-back.dst", "multi-12", "&speed=750", []string{"--speed", "750"}},
		{"crew-names.dst", "../../demo/shop/gannet.toml", "", nil},
	} {
		path := "/designs/" + d.design(c.design)
		query := "?machine=" + d.machine(c.machine) + c.query
		command := slices.Concat([]string{"clock", "-m", c.machine, "../../demo/designs/" + c.design},
			c.flags)
		all = append(all, asked{
			name: "clock " + c.design, of: []string{"Clock", "Sweep"},
			command: slices.Concat(command, []string{"--by", "block,kind", "--sweep", "--why"}),
			get:     path + "/clock" + query, page: path + query,
			tables: map[string][]string{
				"blocks":  slices.Concat(command, []string{"--by", "block", "--csv"}),
				"kinds":   slices.Concat(command, []string{"--by", "kind", "--csv"}),
				"seconds": nil, "sweep": nil, "why": nil,
			},
			shown: largely("seconds"), headline: largely("seconds"),
			differs: []string{"design", "label", "file", "best_speed"}, not: none, // of the shop's own counts, which a sheet's file has not
		})
	}
	stands := []string{"clock", "-m", "compact-8", "--at-stitch", "1200", "../../demo/designs/ostrel-light.dst"}
	all = append(all, asked{
		name: "what is left from a stitch on", of: []string{"Clock"},
		command: slices.Concat(stands, []string{"--by", "block,kind", "--sweep", "--why"}),
		get:     "/designs/" + d.design("ostrel-light.dst") + "/clock?machine=compact-8&at_stitch=1200",
		shown:   largely("seconds"), differs: []string{"design", "label", "file", "best_speed"},
		not: map[string]string{"page": "Today asks it of what is on a machine, and is held to it there",
			"xlsx": noWorkbook, "pdf": noPaper},
		more: func(t *testing.T, d *demoServed, a *answers) {
			out, _, _ := invoke(t, append(slices.Clone(stands), "--csv")...)
			a.said["csv"] = out
			if got := columnsOf(t, out, nil)["stitches"]; len(got) != 1 || got[0] != fmt.Sprint(a.json["stitches"]) {
				t.Errorf("%v stitches are left as CSV, %v as JSON", got, a.json["stitches"])
			}
		},
	})
	path, file := "/designs/"+d.design("larkess-ferry.dst"), "../../demo/designs/larkess-ferry.dst"
	audit := []string{"audit", "-m", "compact-8", "--pieces", "48", "--hoop", "60x50", file}
	mended := filepath.Join(d.dir, "ferry.dst")
	var also []string // the shop's machines, which sew the file too
	for _, name := range []string{"gannet", "six-sisters", "skipper"} {
		also = append(also, "--also", "../../demo/shop/"+name+".toml")
	}
	manyNames := []string{"larkess-ferry.dst", "whale-line.dst", "gull-cap.dst"}
	gannet := "../../demo/shop/gannet.toml"
	many := append([]string{"mend", "-m", gannet, "--workshop", "../../demo/orders/WORKSHOP.toml"}, also[2:]...)
	var ids []string
	for _, name := range manyNames {
		many = append(many, "../../demo/designs/"+name)
		ids = append(ids, d.design(name))
	}
	return append(all, asked{
		name: "mend of many", of: []string{"MendMany"}, command: many,
		post: "/designs/mend", body: `{"machine":"` + d.machine(gannet) + `","designs":["` + strings.Join(ids, `","`) + `"]}`,
		page:   "/designs/mend",
		form:   form{"machine": d.machine(gannet), "design": strings.Join(ids, "\n"), "seconds": ""},
		tables: map[string][]string{"designs": append(slices.Clone(many), "--csv")},
		shown: func(a map[string]any) []string {
			all := []string{seconds(a, "saved_seconds")}
			for _, of := range a["designs"].([]any) {
				all = append(all, seconds(of.(map[string]any), "seconds_after"))
			}
			return all
		},
		headline: largely("saved_seconds"), figures: func(_ string, row []string) []string { return row[1:] },
		differs: []string{"designs.design", "designs.id", "design", "id"}, not: none,
		more: func(t *testing.T, d *demoServed, a *answers) {
			u := mustParse(t, a.page)
			u.Path += "/zip"
			b := d.file(u.RequestURI())
			dir := t.TempDir()
			invoke(t, append(slices.Clone(many), "--only-clear", "-o", dir)...)
			z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
			if err != nil || len(z.File) != int(a.json["clear"].(float64)) || len(z.File) < 2 {
				t.Fatalf("%d files in the zip, %v are clear, %v", len(z.File), a.json["clear"], err)
			}
			for _, f := range z.File {
				r, err := f.Open()
				if err != nil {
					t.Fatal(err)
				}
				content, err := io.ReadAll(r)
				if err != nil {
					t.Fatal(err)
				}
				sameFile(t, f.Name, filepath.Join(dir, f.Name), content)
			}
		},
	}, asked{
		name: "audit", of: []string{"Audit"}, command: append(audit, "--all"),
		post: path + "/audit", body: `{"machine":"compact-8","pieces":48,"hoop_x":60,"hoop_y":50}`,
		page:  path + "/audit?machine=compact-8&pieces=48&hoop_x=60&hoop_y=50",
		lists: map[string][]string{"findings": append(slices.Clone(audit), "--csv")},
		shown: func(a map[string]any) (all []string) {
			for _, f := range a["findings"].([]any) {
				f := f.(map[string]any)
				all = append(all, f["what"].(string))
				if f["seconds"].(float64) != 0 {
					all = append(all, seconds(f, "seconds"))
				}
			}
			return all
		},
		headline: largely("total_seconds"),
		differs:  []string{"design", "label", "file", "density"}, // the API has the map of penetrations too
		not:      none,
	}, asked{
		name: "mend", of: []string{"Mend"},
		command: append([]string{"mend", "-m", "compact-8", "--overwrite", "-o", mended, file}, also...),
		post:    path + "/mend", body: `{"machine":"compact-8"}`,
		page: path + "/mend?machine=compact-8", form: form{"seconds": ""},
		tables: map[string][]string{"changes": nil, "colours": nil},
		shown:  largely("saved_seconds"), headline: largely("saved_seconds"),
		differs: []string{"design", "file", "out", "written"},
		not:     map[string]string{"csv": oneAnswer, "xlsx": noWorkbook, "pdf": noPaper},
		more: func(t *testing.T, d *demoServed, a *answers) {
			u := mustParse(t, a.page)
			u.Path += "/file"
			sameFile(t, "the mended file", mended, d.file(u.RequestURI()))
		},
	})
}
