package pages

import (
	"errors"
	"io"
	"slices"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/learn"
	"needlepace/shop"
	"needlepace/shop/classes"
	"needlepace/web/serve"
	"needlepace/words"
)

// poolFields is the form of a class: the shop's machines and the sheets of other
// shops that it is made of, by their IDs.
type poolFields struct {
	Machine  []string `toml:"machine"`
	Evidence []string `toml:"evidence"`
}

func (in *poolFields) some() bool { return len(in.Machine)+len(in.Evidence) > 0 }

// classesData is what the page of classes shows.
type classesData struct {
	In     *poolFields
	A      *ask.PoolAnswer // what those that are ticked say; nil where none are
	Groups []*poolGroup
	Made   []madeClass
	Others []classes.Kept
}

// poolGroup are the learned machines of one class.
type poolGroup struct {
	Class string
	Rows  []poolRow
}

// poolRow is a sheet that can be ticked, or why it cannot.
type poolRow struct {
	Field, ID, Name string
	Runs            int
	On              bool
	Why             string
}

// madeClass is a class that the shop made, and the machines that may start from it.
type madeClass struct {
	classes.Kept
	Machines []option
}

// classesPage shows what learned machines say of their classes.
func (c *call) classesPage(in *poolFields, f *form) error {
	data := &classesData{In: in}
	p := &page{Title: words.Say("classes.title").Text(c.writer()), Nav: "machines", Data: data, Form: f}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	if data.Others, err = c.Shop.Classes.Evidence(c.Ctx); err != nil {
		return err
	}
	made, err := c.Shop.Classes.Made(c.Ctx)
	if err != nil {
		return err
	}
	for _, k := range made {
		row := madeClass{Kept: k}
		for _, m := range machines {
			in := m.Sheet.Fit != nil && slices.Contains(k.Sheet.Pool.From, m.Sheet.Fit.Digest)
			if m.Sheet.Class == k.Sheet.Class && !in {
				row.Machines = append(row.Machines, option{m.ID, m.Name})
			}
		}
		data.Made = append(data.Made, row)
	}
	for _, m := range machines {
		if m.Sheet.Fit != nil {
			data.add(m.Sheet.Class, poolRow{"machine", m.ID, m.Name, m.Sheet.Fit.Runs,
				!in.some() || slices.Contains(in.Machine, m.ID), learn.CheckEvidence(m.Sheet)})
		}
	}
	for _, k := range data.Others {
		data.add(k.Sheet.Class, poolRow{"evidence", k.ID, k.Name, k.Sheet.Fit.Runs,
			!in.some() || slices.Contains(in.Evidence, k.ID), learn.CheckEvidence(k.Sheet)})
	}
	if in.some() && !f.bad() {
		a, err := c.Shop.Pool(c.Ctx, act.Pooling{Machines: in.Machine, Evidence: in.Evidence})
		if err := f.takeEach(err); err != nil {
			return err
		}
		if data.A = a; a != nil {
			p.addTables(c.writer(), a.ConstantsTable(), a.TermsTable(), a.MembersTable())
		}
	}
	return c.show("classes.html", p)
}

// takeEach is take of an error that may be about several sheets: each is told on
// a line of its own.
func (f *form) takeEach(err error) error {
	var each learn.RefusedError
	if !errors.As(err, &each) {
		return f.take(err)
	}
	for _, r := range each {
		f.told = append(f.told, words.Sentence(r.Name+": "+r.Why))
	}
	return nil
}

func (d *classesData) add(class string, r poolRow) {
	i := slices.IndexFunc(d.Groups, func(g *poolGroup) bool { return g.Class == class })
	if i < 0 {
		i = len(d.Groups)
		d.Groups = append(d.Groups, &poolGroup{Class: class})
	}
	d.Groups[i].Rows = append(d.Groups[i].Rows, r)
}

// keepClassForm keeps the class that the ticked sheets make.
func keepClassForm(c *call) error {
	var in poolFields
	return c.sent(&in, func(f *form) (string, error) {
		k, _, err := c.Shop.KeepClass(c.Ctx, act.Pooling{Machines: in.Machine, Evidence: in.Evidence})
		if err := f.takeEach(err); err != nil || k == nil {
			return "", err
		}
		return "/classes#made", nil
	}, func(f *form) error { return c.classesPage(&in, f) })
}

// addEvidenceForm takes in sheets that other shops exported, all or none before
// the first that is refused.
func addEvidenceForm(c *call) error {
	parts, err := c.MultipartReader()
	if err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	added := 0
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			if added == 0 {
				return shop.Invalidf("no sheet was chosen; choose the .toml files that another shop sent")
			}
			return c.see("/classes#others")
		}
		if err != nil {
			return serve.BadRequest("the form cannot be read: %v", err)
		}
		if p.FormName() != "file" || p.FileName() == "" {
			continue
		}
		b, err := serve.ReadSheet(p)
		if err != nil {
			return err
		}
		if _, err := c.Shop.Classes.AddEvidence(c.Ctx, shop.CleanFile(p.FileName()), string(b)); err != nil {
			return err
		}
		added++
	}
}

// removeClassForm forgets a class that was made, or a sheet of another shop.
func removeClassForm(c *call) error {
	return c.seeOr("/classes", c.Shop.Classes.Remove(c.Ctx, c.PathValue("made")))
}

// startFromForm gives a machine the class's sheet, to be learned from there.
func startFromForm(c *call) error {
	var in struct {
		Machine string `toml:"machine"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	m, err := c.Shop.StartFrom(c.Ctx, c.PathValue("made"), in.Machine, c.By())
	if err != nil {
		return err
	}
	return c.see("/machines/" + m.ID)
}

func classFile(c *call) error {
	k, err := c.Shop.Classes.Get(c.Ctx, c.PathValue("made"))
	if err != nil {
		return err
	}
	c.Download(k.Name+".toml", "application/toml", k.Sheet.TOML(), shop.Digest(k.Sheet.TOML())[:24])
	return nil
}

// exportFile is a machine's learned sheet for other shops.
func exportFile(c *call) error {
	sheet, name, err := c.Shop.Exported(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return err
	}
	c.W.Header().Set("Cache-Control", "no-store")
	c.Download(name, "application/toml", sheet.TOML(), shop.Digest(sheet.TOML())[:24])
	return nil
}

// kindOptions are the built-in classes and those that the shop made.
func (c *call) kindOptions() ([]option, error) {
	made, err := c.Shop.Classes.Made(c.Ctx)
	if err != nil {
		return nil, err
	}
	w := c.writer()
	out := classOptions(w, "")
	for _, k := range made {
		out = append(out, option{k.ID, ask.ClassSays(k.Sheet).Text(w) + ", " + k.Sheet.Pool.Words().Text(w)})
	}
	return out, nil
}
