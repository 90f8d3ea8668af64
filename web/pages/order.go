package pages

import (
	"cmp"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// orderData is one order as its page shows it.
type orderData struct {
	O        *book.Order
	D        serve.When
	Row      orderRow
	Big      string
	Says     string // what the plan says of it
	Facts    string // what is asked for
	Foreign  bool   // the page is not in English, as what is kept of the order's history is
	Path     []pathStep
	Lines    []orderLineRow
	Axis     template.HTML
	Notes    []words.Message
	Stale    string
	Moves    []stateMove
	Quotes   []*book.Quote
	History  []book.Change
	Reports  int
	Main     *stateMove
	Priced   bool
	Left     int
	CanQuote bool
	Record   int // line to record, 0: none
	// Deliveries are what the customer got before the whole; Deliver the lines of which something may be delivered.
	Deliveries []deliveredRow
	Deliver    []option
	Files      *designChoice // what may have come, where something waits for its file
}

// deliveredRow is one delivery on the list.
type deliveredRow struct {
	Number          int
	What, Note, Day string
	Back            string // what is said of it where it was taken back
}

// pathStep is one state on the way of an order.
type pathStep struct {
	Name string
	Done bool
	Now  bool
}

// stateMove is a state an order can be taken to, with the words of its button.
type stateMove struct {
	To    book.OrderState
	Words words.Message
}

// orderLineRow is one line of an order.
type orderLineRow struct {
	*book.OrderLine
	D       *shop.Design
	Threads []book.Thread
	On      []book.PlanLot
	Strip   template.HTML
	End     string
	Placed  string // where and when the plan has it
	Run     *ask.LineRun
	Bar     template.HTML
	Held    string
	Running string
	Again   string // pieces to be made again
}

// Sheets are the garment colours that have run sheets of their own; one empty
// name where the line has one sheet, or will have once it is planned.
func (r *orderLineRow) Sheets() (out []string) {
	if len(r.On) == 0 && r.Left() > 0 {
		return []string{""}
	}
	for i := range r.On {
		if c := r.On[i].Colour; !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}

// way is the way of an order that is not withdrawn.
var way = []book.OrderState{book.Requested, book.Quoted, book.Agreed, book.Sewing, book.Sewn, book.Delivered}

func showOrder(c *call) error {
	o, err := c.Order()
	if err != nil {
		return err
	}
	d, w, err := c.When()
	if err != nil {
		return err
	}
	last, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	data := &orderData{O: o, D: d, Row: orderRow{Order: o, Due: d.Kept(o.Due), Promised: d.Kept(o.Promised)},
		Priced: w.Priced(), Left: o.Left()}
	axis := workingTime(last, d, w)
	data.Row.plan(last, axis)
	data.Big = cmp.Or(data.Row.End, stateName(o.State).Text(d.W))
	data.Foreign = d.W.Tag() != "en"
	if data.Notes, err = c.Shop.OrderNotes(c.Ctx, o); err != nil {
		return err
	}
	if o.State.Planned() {
		if data.Stale, err = c.stale(last); err != nil {
			return err
		}
	}
	if err := c.orderLines(data, last, axis); err != nil {
		return err
	}
	if len(o.Roughs) > 0 {
		c.passes() // designs that are new are shown
		if data.Files, err = c.designChoice(); err != nil {
			return err
		}
	}
	if data.Quotes, err = c.Shop.Plans.Quotes(c.Ctx, o.ID); err != nil {
		return err
	}
	if data.History, err = c.Shop.Orders.History(c.Ctx, o.ID); err != nil {
		return err
	}
	slices.Reverse(data.History)
	reports, err := c.Shop.Orders.Reports(c.Ctx, o.ID)
	if err != nil {
		return err
	}
	data.Reports = len(reports)
	if err := c.deliveries(data); err != nil {
		return err
	}
	at := slices.Index(way, o.State)
	for i, s := range way {
		data.Path = append(data.Path, pathStep{stateName(s).Text(d.W), i < at, i == at})
	}
	if o.State == book.Withdrawn {
		data.Path = append(data.Path, pathStep{stateName(o.State).Text(d.W), false, true})
	}
	for _, to := range o.State.Next() {
		m := stateMove{to, words.Say("order-move." + string(to))}
		if i := slices.Index(way, to); data.Main == nil && i == at+1 && at >= 0 && to != book.Quoted &&
			to != book.Sewing && (to != book.Sewn || o.Left() == 0) || o.State == book.Quoted && to == book.Agreed {
			data.Main = &m
			continue
		}
		data.Moves = append(data.Moves, m)
	}
	if o.State.Planned() {
		for i := range o.Lines {
			if l := &o.Lines[i]; l.Left() > 0 && !l.Partner.Sews() && (data.Record == 0 ||
				slices.ContainsFunc(l.Holds, func(h book.Hold) bool { return h.Running })) {
				data.Record = l.Line
			}
		}
	}
	data.CanQuote = len(o.Roughs) == 0 && (o.State == book.Requested || o.State == book.Quoted || o.State == book.Agreed)
	data.say()
	p := &page{Title: words.Say("record.order", words.Args{"number": words.Name(strconv.Itoa(o.Number))}).Text(d.W), Nav: "orders", Data: data,
		Tables: map[string]*table{"reports": reportsTable(c, o, reports, d)}}
	p.cards("reports")
	if c.asks("new") != "" {
		p.tell(words.Say("order-page.taken-in", words.Args{"number": words.Name(strconv.Itoa(o.Number))}).Text(d.W))
	}
	if c.asks("kept") == "both" {
		p.tell(words.Say("hours-page.kept-both").Text(d.W))
	}
	return c.show("order.html", p)
}

// say says what the plan has of the order, and what it asks for.
func (data *orderData) say() {
	o, d := data.O, &data.D
	if data.Row.End == "" || data.LateByPlan() {
		data.Says = words.Sentence(data.Row.Says)
	} else if data.Row.OnTime != "" {
		data.Says = words.Say("order-page.by-plan-chance", words.Args{"chance": words.Name(data.Row.OnTime)}).Text(d.W)
	} else {
		data.Says = words.Say("order-page.by-plan").Text(d.W)
	}
	facts := []words.Message{words.Say("order-page.pieces", words.Args{"pieces": words.Count(o.Pieces(), "piece")})}
	if len(o.Lines) == 0 {
		facts[0] = words.Say("rough.no-file-at-all")
	} else if data.Left > 0 && data.Left < o.Pieces() {
		facts[0] = words.Say("order-page.pieces-left", words.Args{"pieces": words.Count(o.Pieces(), "piece"), "left": words.Whole(data.Left)})
	}
	on := func(key string, day words.Day) {
		if !day.IsZero() {
			facts = append(facts, words.Say("order-fact."+key, words.Args{"what": words.Name(d.Kept(day))}))
		}
	}
	on("wanted", o.Due)
	on("promised", o.Promised)
	on("latest", o.Latest)
	if o.Together {
		facts = append(facts, words.Say("order.together"))
	}
	if o.PurchaseOrder != "" {
		facts = append(facts, words.Say("order-fact.their-order", words.Args{"what": words.Name(o.PurchaseOrder)}))
	}
	on("goods", o.Goods)
	all := facts[0].Text(d.W)
	for _, f := range facts[1:] {
		all += "; " + f.Text(d.W)
	}
	data.Facts = words.Sentence(all)
}

// LateByPlan reports whether the plan has it later than it is due.
func (data *orderData) LateByPlan() bool { return data.Row.End != "" && data.Row.Risk == "late" }

// onMachines says on which machines the plan has a line, and when it is sewn.
func onMachines(on []book.PlanLot, end string, d serve.When) string {
	var all []string
	for i := range on {
		l := &on[i]
		what := words.Whole(l.Quantity).Text(d.W)
		if l.Colour != "" {
			what += " " + l.Colour
		}
		all = append(all, words.Say("order-page.placed", words.Args{"what": words.Name(what), "machine": words.Name(l.Machine),
			"at": words.Name(d.At(l.From))}).Text(d.W))
	}
	out := strings.Join(all, ", ")
	if end != "" {
		if out != "" {
			out += "; "
		}
		out += words.Say("orders.sewn", words.Args{"at": words.Name(end)}).Text(d.W)
	}
	return out
}

// orderLines fills the lines of an order's page.
func (c *call) orderLines(data *orderData, last *book.Plan, axis *working) error {
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	name := map[string]string{}
	for _, m := range machines {
		name[m.ID] = m.Name
	}
	longest := 0.0
	for i := range data.O.Lines {
		l := &data.O.Lines[i]
		row := orderLineRow{OrderLine: l, Again: reworkText(l, data.D.W)}
		if row.D, err = c.Shop.Designs.Get(c.Ctx, l.DesignID); err != nil {
			return err
		}
		for i, t := range l.Threads { // the order's own, else the design's
			th := book.Thread{Name: t}
			if i < len(row.D.Threads) && row.D.Threads[i].Name == t {
				th = row.D.Threads[i]
			}
			row.Threads = append(row.Threads, th)
		}
		if len(l.Threads) == 0 {
			row.Threads = row.D.Threads
		}
		machineID := ""
		for _, h := range l.Holds {
			machineID = h.MachineID
			to, on := &row.Held, name[h.MachineID]
			if h.Running {
				to = &row.Running
			}
			if h.Quantity > 0 { // others have the rest
				on += " (" + words.Count(h.Quantity, "piece").Text(data.D.W) + ")"
			}
			if *to != "" {
				*to += ", "
			}
			*to += on
		}
		var due time.Time
		if last != nil && data.O.State.Planned() {
			for k := range last.Lots {
				if last.Lots[k].OrderID == data.O.ID && last.Lots[k].Line == l.Line {
					row.On = append(row.On, last.Lots[k])
				}
			}
			for _, e := range last.Ends {
				if e.OrderID == data.O.ID && e.Line == l.Line {
					row.End, due = axis.At(e.End), e.Due
				}
			}
			row.Strip = axis.Strip(row.On, due)
		}
		if len(row.On) > 0 {
			machineID = row.On[0].MachineID
		}
		if machineID != "" && !row.D.Removed {
			if row.Run, err = c.runOf(data.O, l.Line, machineID); err != nil {
				return err
			}
		}
		if row.Run != nil {
			longest = max(longest, row.Run.Seconds)
		}
		if row.Strip != "" {
			data.Axis = axis.Axis()
		}
		row.Placed = onMachines(row.On, row.End, data.D)
		data.Lines = append(data.Lines, row)
	}
	for i := range data.Lines {
		if r := data.Lines[i].Run; r != nil {
			data.Lines[i].Bar = bar{Parts: picture.PartsOf(r.Parts), Max: longest,
				Label: words.Say("picture.one-run",
					words.Args{"parts": picture.TimedParts(picture.PartsOf(r.Parts))}).Text(data.D.W), W: data.D.W}.HTML()
		}
	}
	return nil
}

// deliveries fills in what the customer got, and what could be delivered.
func (c *call) deliveries(data *orderData) error {
	all, err := c.Shop.Orders.Deliveries(c.Ctx, data.O.ID)
	if err != nil {
		return err
	}
	for _, x := range all {
		row := deliveredRow{Number: x.Number, Day: data.D.Kept(x.Day), Note: x.Note,
			What: words.Say("order.delivered", words.Args{"pieces": words.Count(x.Pieces, "piece"),
				"line": words.Whole(x.Line)}).Text(data.D.W)}
		if x.TakenBack != nil {
			row.Back = backText(x.TakenBack, data.D)
		}
		data.Deliveries = append(data.Deliveries, row)
	}
	if data.O.State != book.Sewing && data.O.State != book.Sewn {
		return nil
	}
	for i := range data.O.Lines {
		if l := &data.O.Lines[i]; l.Good > l.Delivered {
			data.Deliver = append(data.Deliver, option{strconv.Itoa(l.Line), words.Say("order.deliver-line", words.Args{
				"line": words.Whole(l.Line), "pieces": words.Count(l.Good-l.Delivered, "piece")}).Text(data.D.W)})
		}
	}
	return nil
}

// deliverForm says that the customer got a part of a line.
func deliverForm(c *call) error {
	var in struct {
		Version count     `toml:"version"`
		Line    count     `toml:"line"`
		Pieces  *count    `toml:"pieces"`
		Day     words.Day `toml:"day"`
		Note    string    `toml:"note"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	o, err := c.Order()
	if err != nil {
		return err
	}
	d := book.HandOver{OrderID: o.ID, Line: int(in.Line), Pieces: int(or(in.Pieces, 0)), Day: in.Day, Note: in.Note}
	if o, _, err = c.Shop.Deliver(c.Ctx, d, int(in.Version), c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}

// undoDeliveryForm takes a delivery back.
func undoDeliveryForm(c *call) error {
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
	if o, err = c.Shop.TakeBackDelivery(c.Ctx, o.ID, c.PathValue("delivery"), int(in.Version), in.Why,
		c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}

// runOf is a run of a line on a machine; nil where there can be none.
func (c *call) runOf(o *book.Order, line int, machineID string) (*ask.LineRun, error) {
	run, err := ask.RunOfLine(c.Ctx, c.Shop.Asked(), o, line, machineID)
	if code := shop.CodeOf(err); code == shop.Invalid || code == shop.NotFound {
		return nil, nil
	}
	return run, err
}

// reportsTable lists an order's reports; the number of one that stands leads to where it is corrected or taken back.
func reportsTable(c *call, o *book.Order, all []book.Report, d serve.When) *table {
	w := d.W
	t := &table{ID: "reports", Caption: words.Say("order-report.caption").Text(w), Full: true,
		Cols: cols("Day", "#Line", "Machine", "#Good", "#Spoilt", "#Breaks=thread_breaks", "#Held the machine=seconds",
			"#Predicted=predicted_seconds", "By", "Note", "#No.=number", "#To sew again=again", "Taken back=taken_back")}
	for i, key := range []string{"day", "line", "machine", "good", "spoilt", "breaks", "held", "predicted", "who", "note", "number", "again", "back"} {
		t.Cols[i].say(words.Say("order-report."+key), w)
	}
	names := map[string]string{}
	for i := range all {
		r := &all[i]
		if _, known := names[r.MachineID]; !known {
			names[r.MachineID] = words.Say("order-report.machine-gone").Text(w)
			if m, err := c.Shop.Machines.Get(c.Ctx, r.MachineID); err == nil {
				names[r.MachineID] = m.Name
			}
		}
		breaks, held := words.Say("order-report.not-counted").Text(w), words.Say("order-report.not-timed").Text(w)
		if r.Breaks >= 0 {
			breaks = strconv.Itoa(r.Breaks)
		}
		number, back := whole(r.Number), ""
		if r.TakenBack != nil {
			back = backText(r.TakenBack, d)
		} else if c.May(shop.RecordPieces) {
			number.Link = orderPath(o) + "/record?correct=" + number.Raw
		}
		if r.Seconds > 0 {
			held = words.Seconds(r.Seconds).Text(w)
		}
		t.row(figure(d.Kept(r.Day), r.Day.String()), whole(r.Line), text(names[r.MachineID]), whole(r.Good),
			whole(r.Spoilt), text(breaks), figure(held, raw(r.Seconds)), figure(words.Seconds(r.Predicted).Text(w),
				raw(r.Predicted)),
			text(r.By), text(r.Note), number, whole(r.Again), text(back))
	}
	return t
}

// moveOrderForm takes an order to another state.
func moveOrderForm(c *call) error {
	var in struct {
		Version count  `toml:"version"`
		To      string `toml:"to"`
		Note    string `toml:"note"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	o, err := c.Order()
	if err != nil {
		return err
	}
	if o, err = c.Shop.Orders.Move(c.Ctx, o.ID, int(in.Version), book.OrderState(in.To), in.Note, c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}

// garmentsForm says that garments came, or come on another day.
func garmentsForm(c *call) error {
	var in struct {
		Version count     `toml:"version"`
		Line    count     `toml:"line"`
		Due     words.Day `toml:"due"`
		Here    bool      `toml:"here"`
		Late    words.Day `toml:"late"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	if !in.Here && in.Late.IsZero() {
		return shop.Saying(shop.Invalid, words.Say("refused.garments-when"))
	}
	o, err := c.Order()
	if err != nil {
		return err
	}
	q := act.GarmentsQuestion{Order: o.ID, Version: int(in.Version), Line: int(in.Line), Due: in.Due}
	if !in.Here {
		q.Late = in.Late
	}
	if o, _, err = c.Shop.GarmentsCame(c.Ctx, q, c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}
