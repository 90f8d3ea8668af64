package pages

import (
	"fmt"
	"strconv"
	"strings"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/words"
)

// visitFields is the form of what people say of a visit.
type visitFields struct {
	Name    string `toml:"name"`
	Client  string `toml:"client"`
	Note    string `toml:"note"`
	Version int    `toml:"version"`
}

// visitList is the page that lists visits.
type visitList struct {
	In          *visitFields
	Visits, Off []*shop.Visit
	Listed      *shortList
}

func showVisits(c *call) error { return c.visitsPage(&visitFields{}, nil) }

func (c *call) visitsPage(in *visitFields, f *form) error {
	data := &visitList{In: in}
	var err error
	if data.Visits, err = c.Shop.Visits.List(c.Ctx, false); err != nil {
		return err
	}
	if data.Off, err = c.Shop.Visits.List(c.Ctx, true); err != nil {
		return err
	}
	w := c.writer()
	var rows []shortRow
	for _, v := range data.Visits {
		rows = append(rows, shortRow{[]cell{linked(v.Name, "/visits/"+v.ID), text(v.Client), text((words.Moment{Time: v.Changed}).Text(w))},
			[]string{v.Name, v.Client, strconv.FormatInt(v.Changed.Unix(), 10)}})
	}
	title := words.Say("visit.title").Text(w)
	data.Listed, err = c.shortList(title, "name", rows, listedBy{Key: "name", Name: words.Say("visit.name")},
		listedBy{Key: "client", Name: words.Say("visit.client")}, listedBy{Key: "changed", Name: words.Say("lists.changed"), Falls: true})
	if err != nil {
		return err
	}
	return c.show("visits.html", &page{Title: title, Nav: "visits", Data: data, Form: f})
}

func beginVisitForm(c *call) error {
	var in visitFields
	return c.sent(&in, func(*form) (string, error) {
		v, err := c.Shop.BeginVisit(c.Ctx, in.Name, in.Client, in.Note)
		if err != nil {
			return "", err
		}
		return "/visits/" + v.ID, nil
	}, func(f *form) error { return c.visitsPage(&in, f) })
}

func importVisitForm(c *call) error {
	files, err := c.Parts(func(string, string) {})
	if err != nil {
		return err
	}
	if len(files) != 1 {
		return shop.Saying(shop.Invalid, words.Say("refused.visit-file"))
	}
	v, err := c.Shop.ImportVisit(c.Ctx, files[0].Bytes)
	if err != nil {
		return err
	}
	return c.see("/visits/" + v.ID)
}

// visitData is a visit with its files by folder.
type visitData struct {
	*shop.Visit
	In      *visitFields
	Trials  []visitTrial
	Calls   []visitTrial
	Folders []visitFolder
	Into    []option
}

type visitTrial struct{ Short, Name string }

type visitFolder struct {
	Name  words.Message
	Files []shop.VisitFile
}

func showVisit(c *call) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	return c.visitPage(&visitFields{v.Name, v.Client, v.Note, v.Version}, nil)
}

func (c *call) visitPage(in *visitFields, f *form) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	data := &visitData{Visit: v, In: in}
	trials, err := c.Shop.Trials(c.Ctx, v.ID)
	if err != nil {
		return err
	}
	for _, short := range trials {
		t := visitTrial{short, short}
		b, err := c.Shop.Visits.Read(c.Ctx, v.ID, "trials/"+short+"/TRIAL.toml")
		if err != nil {
			return err
		}
		if file, err := trial.Parse(short, b); err == nil {
			t.Name = file.Name
		}
		data.Trials = append(data.Trials, t)
	}
	calls, err := c.Shop.Calls(c.Ctx, v.ID)
	if err != nil {
		return err
	}
	for _, short := range calls {
		t := visitTrial{short, short}
		b, err := c.Shop.Visits.Read(c.Ctx, v.ID, act.CallFolder(short)+"CALL.toml")
		if err != nil {
			return err
		}
		if file, err := trial.ParseOpenCall(short, b); err == nil {
			t.Name = file.Name
		}
		data.Calls = append(data.Calls, t)
	}
	files, err := c.Shop.Visits.Files(c.Ctx, v.ID)
	if err != nil {
		return err
	}
	for _, name := range visits.Folders {
		folder := visitFolder{Name: words.Say("visit.folder." + name)}
		for _, x := range files {
			if strings.HasPrefix(x.Name, name+"/") {
				folder.Files = append(folder.Files, x)
			}
		}
		if len(folder.Files) > 0 {
			data.Folders = append(data.Folders, folder)
		}
		if name != "trials" && name != "calls" {
			data.Into = append(data.Into, option{name, folder.Name.Text(c.writer())})
		}
	}
	return c.show("visit.html", &page{Title: v.Name, Nav: "visits", Data: data, Form: f})
}

func describeVisitForm(c *call) error {
	var in visitFields
	return c.sent(&in, func(*form) (string, error) {
		v, err := c.Shop.Visits.Describe(c.Ctx, c.PathValue("visit"), in.Version, in.Name, in.Client, in.Note)
		if err != nil {
			return "", err
		}
		return "/visits/" + v.ID, nil
	}, func(f *form) error { return c.visitPage(&in, f) })
}

// putVisitForm keeps files in a folder of a visit.
func putVisitForm(c *call) error {
	into := ""
	files, err := c.Parts(func(name, value string) {
		if name == "into" {
			into = value
		}
	})
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return shop.Saying(shop.Invalid, words.Say("refused.no-file-chosen"))
	}
	var put []visits.File
	for _, x := range files {
		put = append(put, visits.File{Name: into + "/" + x.Name, As: x.Bytes})
	}
	id := c.PathValue("visit")
	return c.seeOr("/visits/"+id+"#files", c.Shop.Visits.Put(c.Ctx, id, c.By(), put...))
}

// dropVisitForm takes a file out of a visit.
func dropVisitForm(c *call) error {
	var in struct {
		Name string `toml:"name"`
		To   string `toml:"to"`   // a trial or a call, to whose page to go back
		Call bool   `toml:"call"` // it is a call
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	id := c.PathValue("visit")
	to := "/visits/" + id + "#files"
	if in.To != "" && trial.Short(in.To) {
		kind := "trials"
		if in.Call {
			kind = "calls"
		}
		to = fmt.Sprintf("/visits/%s/%s/%s#came", id, kind, in.To)
	}
	return c.seeOr(to, c.Shop.Visits.TakeOut(c.Ctx, id, in.Name))
}

func awayVisitForm(away bool) func(*call) error {
	return func(c *call) error {
		id := c.PathValue("visit")
		return c.seeOr("/visits/"+id, c.Shop.Visits.PutAway(c.Ctx, id, away))
	}
}

func eraseVisitForm(c *call) error {
	return c.seeOr("/visits", c.Shop.Visits.Erase(c.Ctx, c.PathValue("visit")))
}
