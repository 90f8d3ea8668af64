package pages

import (
	"html/template"

	"needlepace/ask"
	"needlepace/rough"
	"needlepace/words"
)

// roughFields is the form of a price before there is a file.
type roughFields struct {
	Width    *amount `toml:"width"`
	Height   *amount `toml:"height"`
	Kind     string  `toml:"kind"`
	Cover    string  `toml:"cover"`
	Colours  *count  `toml:"colours"`
	Quantity *count  `toml:"quantity"`
	Cap      bool    `toml:"cap"`
	Design   string  `toml:"design"` // that came
}

// roughData is its page.
type roughData struct {
	In                   *roughFields
	A                    *ask.RoughAnswer // nil: nothing is asked yet
	Kinds, Covers, Files []option
	Book                 template.URL // the address of its workbook
}

func (c *call) roughPage(in *roughFields, f *form) error {
	w := c.writer()
	data := &roughData{In: in, Files: []option{{"", words.Say("rough.no-file").Text(w)}}}
	data.Kinds = []option{{string(rough.Badge), words.Say("rough.badge").Text(w)},
		{string(rough.Lettering), words.Say("rough.lettering").Text(w)},
		{string(rough.JacketBack), words.Say("rough.jacket-back").Text(w)}}
	data.Covers = []option{{string(rough.Light), words.Say("rough.light").Text(w)}, {string(rough.Half), words.Say("rough.half").Text(w)},
		{string(rough.Full), words.Say("rough.full").Text(w)}}
	designs, err := c.designOptions()
	if err != nil {
		return err
	}
	data.Files = append(data.Files, designs...)
	p := &page{Title: words.Say("rough.title").Text(w), Nav: "orders", Data: data, Form: f}
	if in.Width != nil && in.Height != nil && !f.bad() {
		a, err := ask.Rough(c.Ctx, c.Shop.Asked(), ask.RoughQuestion{Width: float64(*in.Width), Height: float64(*in.Height),
			Kind: in.Kind, Cover: in.Cover, Colours: int(or(in.Colours, 0)), Quantity: int(or(in.Quantity, 0)), CapFrame: in.Cap,
			Design: in.Design})
		if err := f.take(err); err != nil {
			return err
		}
		if a != nil && c.asks("xlsx") != "" {
			return c.workbook("before there is a file", "Rough", a.Table())
		}
		if data.A = a; a != nil {
			q := c.URL.Query()
			q.Set("xlsx", "1")
			data.Book = template.URL("/orders/rough?" + q.Encode())
			p.addTables(w, a.Table())
			in.Colours, in.Quantity = some(count(a.Colours)), some(count(a.Quantity))
		}
	}
	if in.Kind == "" {
		in.Kind = string(rough.Badge)
	}
	if in.Cover == "" {
		in.Cover = string(rough.Half)
	}
	return c.show("rough.html", p)
}
