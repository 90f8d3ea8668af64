package pages

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// recordData is the page on which the floor records pieces.
type recordData struct {
	O        *book.Order
	L        *book.OrderLine
	Name     string
	Design   *shop.Design
	D        serve.When
	Machines []*shop.Machine
	Machine  string // chosen
	On       string // what is on that machine now
	Mine     bool
	Left     int
	Heads    int
	Run      *ask.LineRun
	Last     []recordedRow
	Sewn     bool
	May      bool // the order's state allows it
	Others   []int
	In       *recordFields
	Choices  []option // of machines
	Colours  []option // of garments; none: they are all alike
	// Old is the report that is corrected; nil: a new one is recorded.
	Old  *book.Report
	Said string // what Old says
	// Rework says how many pieces are to be made again and how many garments they need.
	Rework string
	Told   string // what the machine tells of it; empty: nothing
	Over   bool   // more than ordered was recorded: it is asked whether that is meant
	Sure   bool   // a timed run lies far from what was predicted: the same
}

// recordFields is the form.
type recordFields struct {
	Line    *count    `toml:"line"`
	Machine string    `toml:"machine"`
	Good    *count    `toml:"good"`
	Spoilt  *count    `toml:"spoilt"`
	Breaks  *count    `toml:"breaks"` // nil: not counted
	From    *daytime  `toml:"from"`
	To      *daytime  `toml:"to"`
	Pauses  *amount   `toml:"pauses"`  // minutes
	RunMin  *amount   `toml:"run_min"` // of the timed run
	RunSec  *amount   `toml:"run_sec"`
	Speed   *amount   `toml:"speed"`
	Day     words.Day `toml:"day"`
	Colour  string    `toml:"colour"` // of the garments
	Note    string    `toml:"note"`
	Off     bool      `toml:"off"`
	Again   *count    `toml:"again"` // of the spoilt ones
	Over    bool      `toml:"over"`
	Sure    bool      `toml:"sure"`    // the timed run is right, far as it lies
	Key     string    `toml:"key"`     // made up by the phone: sent again, nothing is made twice
	Held    *amount   `toml:"held"`    // minutes, of a report that is corrected
	Correct string    `toml:"correct"` // number of the report that is corrected
	Version count     `toml:"version"` // of the order that the form was made from
	Here    bool      `toml:"here"`    // the goods are, before their day
}

// recordedRow is one report on the list.
type recordedRow struct {
	Number          int
	Day, What, Time string
	By, Back        string // who recorded it, and what is said of it where it was taken back
}

// lineAsked is the order and the line of a request; nil: its first.
func (c *call) lineAsked(line *count) (*book.Order, *book.OrderLine, error) {
	o, err := c.Order()
	if err != nil {
		return nil, nil, err
	}
	l := &o.Lines[0]
	if line != nil {
		l = o.Line(int(*line))
	}
	if l == nil {
		return nil, nil, shop.Saying(shop.NotFound, words.Say("refused.no-line", words.Args{
			"order": words.Name(strconv.Itoa(o.Number)), "line": words.Whole(int(*line))}))
	}
	return o, l, nil
}

func showRecord(c *call) error {
	var in recordFields
	f, err := readForm(c.URL.Query(), &in, c.writer())
	if err == nil {
		err = f.err(nil)
	}
	if err != nil {
		return err
	}
	in.Good, in.Spoilt = new(count), new(count)
	if in.Correct != "" {
		o, err := c.Order()
		if err != nil {
			return err
		}
		r, err := c.Shop.Orders.Report(c.Ctx, o, in.Correct)
		if err != nil {
			return err
		}
		in.over(r, in.Machine)
	}
	return c.recordPage(&in, nil)
}

// over fills the form with what a report says; machine is chosen where it is not
// empty.
func (in *recordFields) over(r *book.Report, machine string) {
	whole := func(n int) *count {
		if n < 0 {
			return nil
		}
		return new(count(n))
	}
	timed := func(v float64) *amount {
		if v == 0 {
			return nil
		}
		return new(amount(v))
	}
	*in = recordFields{Correct: in.Correct, Line: whole(r.Line), Machine: cmp.Or(machine, r.MachineID), Good: whole(r.Good),
		Spoilt: whole(r.Spoilt), Again: whole(r.Again), Breaks: whole(r.Breaks), Held: timed(r.Seconds / 60),
		RunMin: timed(math.Floor(r.RunTimed / 60)), RunSec: timed(math.Mod(r.RunTimed, 60)), Speed: timed(r.SetSpeed),
		Day: r.Day, Note: r.Note, Colour: r.Colour}
}

// recordPage shows the page, with a form that was sent before.
func (c *call) recordPage(in *recordFields, f *form) error {
	o, l, err := c.lineAsked(in.Line)
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &recordData{O: o, L: l, Name: lineName(o, l.Line), D: d, Left: l.Left(), Sewn: l.Left() == 0,
		May: o.State.Planned() || o.State == book.Sewn, Machine: in.Machine, In: in}
	if data.Design, err = c.Shop.Designs.Get(c.Ctx, l.DesignID); err != nil {
		return err
	}
	if data.Machines, err = c.Shop.Machines.List(c.Ctx); err != nil {
		return err
	}
	if data.Machine == "" {
		if data.Machine, err = c.where(o, l); err != nil {
			return err
		}
	}
	if data.Machine == "" {
		data.Choices = []option{{"", words.Say("record.which").Text(d.W)}}
	}
	for i, name := range shop.MachineNames(data.Machines) {
		m := data.Machines[i]
		data.Choices = append(data.Choices, option{m.ID, name})
		if m.ID != data.Machine {
			continue
		}
		if data.On, err = c.Shop.Orders.SewingOn(c.Ctx, m.ID); err != nil {
			return err
		}
		data.Mine = data.On == data.Name
		if data.Run, err = c.runOf(o, l.Line, m.ID); err != nil {
			return err
		}
	}
	if f == nil && in.Correct == "" && data.Run != nil {
		if err := data.tell(c, d); err != nil {
			return err
		}
	}
	if colours := l.GarmentColours(); len(colours) > 1 {
		data.Colours = []option{{"", words.Say("record.in-turn").Text(d.W)}}
		for _, name := range colours {
			data.Colours = append(data.Colours, option{name, name})
		}
	}
	for _, x := range o.Lines {
		if x.Line != l.Line {
			data.Others = append(data.Others, x.Line)
		}
	}
	reports, err := c.Shop.Orders.Reports(c.Ctx, o.ID)
	if err != nil {
		return err
	}
	var last *book.Report // of the line
	for i := len(reports) - 1; i >= 0; i-- {
		r := &reports[i]
		if r.Line == l.Line {
			last = cmp.Or(last, r)
			data.Last = append(data.Last, recordedText(r, d))
		}
		if in.Correct != "" && (in.Correct == strconv.Itoa(r.Number) || in.Correct == r.ID) {
			data.Old, data.Said, data.Left = r, recordedText(r, d).What, l.Left()+min(r.Good, l.Good)
		}
	}
	data.Rework = reworkText(l, d.W)
	data.May = data.May || data.Old != nil
	data.Sure = f != nil && f.Wrong("sure") != "" || in.Sure
	data.Over = f != nil && f.Wrong("over") != "" || in.Over
	if in.Version == 0 {
		in.Version = count(o.Version)
	}
	if in.Day.IsZero() {
		in.Day = d.Today()
	}
	p := &page{Title: words.Say("record.title", words.Args{"name": words.Name(data.Name)}).Text(d.W),
		Nav: "orders", Bare: true, Data: data, Form: f}
	if c.asks("kept") != "" && len(data.Last) > 0 {
		p.Told = &told{Lines: []string{words.Say("record.kept", words.Args{
			"made": words.Name(data.Last[0].What),
		}).Text(d.W) + " " + data.Last[0].Time}}
		p.Told.Lines = append(p.Told.Lines, data.offNow(last)...)
	}
	return c.show("record.html", p)
}

// offNow says that what the line had on the report's machine is off it though pieces are left.
func (data *recordData) offNow(r *book.Report) []string {
	i := slices.IndexFunc(data.Machines, func(m *shop.Machine) bool { return m.ID == r.MachineID })
	if i < 0 || len(r.Ended) == 0 || data.L.Left() == 0 {
		return nil
	}
	return []string{words.Say("record.kept-off", words.Args{"machine": words.Name(data.Machines[i].Name),
		"pieces": words.Count(data.L.Left(), "piece")}).Text(data.D.W)}
}

// tell fills the form with what the machine tells since the last report.
func (data *recordData) tell(c *call, d serve.When) error {
	told, err := c.Shop.ToldOf(c.Ctx, data.O, data.L, data.Machine)
	if err != nil || told.Runs == 0 {
		return err
	}
	data.In.Good, data.In.Breaks = new(count(min(told.Runs*data.Run.Heads, data.Left))), new(count(told.Breaks))
	c.passes() // what machines tell is not in the key
	data.Told = words.Say("record.told", words.Args{"runs": words.Count(told.Runs, "run"), "since": words.Name(d.At(told.Since)),
		"breaks": words.Count(told.Breaks, "thread-break")}).Text(d.W)
	return nil
}

// where a line is sewn: where it runs, is held, or by the plan.
func (c *call) where(o *book.Order, l *book.OrderLine) (string, error) {
	on := ""
	for _, h := range l.Holds {
		if on == "" || h.Running {
			on = h.MachineID
		}
	}
	if on != "" {
		return on, nil
	}
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil || p == nil {
		return "", err
	}
	for i := range p.Lots {
		if p.Lots[i].OrderID == o.ID && p.Lots[i].Line == l.Line {
			return p.Lots[i].MachineID, nil
		}
	}
	return "", nil
}

// recordedText says what a report says, real against predicted.
func recordedText(r *book.Report, d serve.When) recordedRow {
	made := words.List{words.Say("record.made-good", words.Args{"n": words.Whole(r.Good)})}
	if r.Spoilt > 0 {
		made = append(made, words.Say("record.made-spoilt", words.Args{"n": words.Whole(r.Spoilt)}))
	}
	if r.Breaks >= 0 {
		made = append(made, words.Count(r.Breaks, "thread-break"))
	}
	var times words.Sentences
	if n := r.Good + r.Spoilt; n > 0 && r.Seconds > 0 {
		times = append(times, words.Say("record.piece-took", words.Args{
			"real": words.Seconds(r.Seconds / float64(n)), "predicted": words.Seconds(r.Predicted / float64(n)),
		}))
	}
	if r.RunTimed > 0 {
		times = append(times, words.Say("record.run-timed", words.Args{"time": words.Seconds(r.RunTimed)}))
	}
	row := recordedRow{Number: r.Number, Day: d.Kept(r.Day), What: made.Text(d.W), Time: times.Text(d.W), By: r.By}
	if b := r.TakenBack; b != nil {
		row.Back = backText(b, d)
	}
	return row
}

// reworkText says how many of a line's pieces are to be made again, and how many
// new garments they need; empty: none.
func reworkText(l *book.OrderLine, w *words.Writer) string {
	if l.Rework() == 0 {
		return ""
	}
	return words.Say("record.rework", words.Args{"pieces": words.Count(l.Rework(), "piece"),
		"garments": words.Count(l.Garments(), "new-garment")}).Text(w)
}

// backText says who took something back, when and why.
func backText(b *book.TakenBack, d serve.When) string {
	out := words.Say("record.taken-back").Text(d.W) + " " + d.At(b.At)
	for _, s := range []string{b.By, b.Why} {
		if s != "" {
			out += ", " + s
		}
	}
	return out
}

// startForm says that a line is on a machine now.
func startForm(c *call) error {
	var in recordFields
	return c.sent(&in, func(*form) (string, error) {
		o, l, err := c.lineAsked(in.Line)
		if err == nil && in.Here {
			_, err = c.Shop.GoodsHere(c.Ctx, o.ID, l.Line, c.By())
		}
		if err == nil {
			_, err = c.Shop.Start(c.Ctx, o.ID, l.Line, in.Machine, 0, in.Colour, c.By())
		}
		if err != nil {
			return "", err
		}
		return book.RecordPath(o.Number, l.Line, in.Machine, in.Colour), nil
	}, func(f *form) error { return c.recordPage(&in, f) })
}

// undoReportForm takes a report back.
func undoReportForm(c *call) error {
	var in struct {
		Version count  `toml:"version"`
		Why     string `toml:"why"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	o, err := c.Order()
	if err != nil {
		return err
	}
	r, err := c.Shop.Orders.Report(c.Ctx, o, c.PathValue("report"))
	if err != nil {
		return err
	}
	if o, err = c.Shop.TakeBack(c.Ctx, o.ID, r.ID, int(in.Version), in.Why, c.By()); err != nil {
		return err
	}
	return c.see(book.RecordPath(o.Number, r.Line, r.MachineID, r.Colour))
}

// recordForm keeps what the floor confirms.
func recordForm(c *call) error {
	var in recordFields
	return c.sent(&in, func(f *form) (string, error) {
		o, l, err := c.lineAsked(in.Line)
		if err != nil {
			return "", err
		}
		f.named = map[string]string{"over": "over", "sure": "sure"} // they are there once they are asked
		r := in.report(f)
		if f.bad() {
			return "", nil
		}
		r.OrderID, r.Line = o.ID, l.Line
		how := act.Recording{Off: in.Off, Over: in.Over, Sure: in.Sure, Key: in.Key}
		if in.Correct != "" {
			how.Saw = int(in.Version)
			_, err = c.Shop.Correct(c.Ctx, o.ID, in.Correct, r, how, c.By())
		} else {
			_, err = c.Shop.Record(c.Ctx, r, how, c.By())
		}
		if err != nil {
			return "", err
		}
		return book.RecordPath(o.Number, l.Line, r.MachineID, r.Colour) + "&kept=" + cmp.Or(in.Key, "1"), nil
	}, func(f *form) error { return c.recordPage(&in, f) })
}

// report is the form's report: times of day become seconds that the pieces held
// the machine.
func (in *recordFields) report(f *form) book.Report {
	r := book.Report{MachineID: in.Machine, Day: in.Day, Note: in.Note, Colour: in.Colour, Good: int(or(in.Good, 0)),
		Spoilt: int(or(in.Spoilt, 0)),
		Breaks: -1, SetSpeed: float64(or(in.Speed, 0)), RunTimed: float64(60*or(in.RunMin, 0) + or(in.RunSec, 0))}
	r.Again = int(or(in.Again, 0))
	r.Seconds = 60 * float64(or(in.Held, 0))
	if in.Breaks != nil {
		r.Breaks = int(*in.Breaks)
	}
	if r.MachineID == "" {
		f.refuse("machine", words.Say("refused.which-machine").Text(f.w))
	}
	pauses := float64(or(in.Pauses, 0))
	oneMissing := words.Say("refused.one-time").Text(f.w)
	switch {
	case in.From == nil && in.To == nil && pauses > 0:
		f.refuse("pauses", words.Say("refused.pauses").Text(f.w))
	case in.From == nil && in.To == nil:
	case in.From == nil:
		f.refuse("from", oneMissing)
	case in.To == nil:
		f.refuse("to", oneMissing)
	default:
		held := time.Duration(*in.To - *in.From)
		if held <= 0 { // over midnight
			held += 24 * time.Hour
		}
		if r.Seconds = held.Seconds() - 60*pauses; r.Seconds <= 0 {
			f.refuse("pauses", words.Say("refused.no-time", words.Args{"held": words.Seconds(held.Seconds()),
				"pauses": words.Name(raw(pauses))}).Text(f.w))
		}
	}
	return r
}
