package api

import (
	"cmp"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

func orderRoutes() []*route {
	return []*route{
		op("listOrders", "GET /orders", shop.Look,
			"A page of the list of orders.",
			gives(listOrders), text("search",
				"words that must all be in number, customer, note or garments"),
			text("state", "of this state only", orderStateNames()...),
			text("sort", "due where left out: soonest first", "due", "number", "customer"), integer("offset", ""),
			integer("limit", "1 to 5000, 50 where left out")),
		op("getAfter", "GET /after", shop.SeeMoney,
			"How jobs that are sewn or delivered went against their newest quotes: time, cost, margin, and why.",
			gives(getAfter), text("by", "order where left out", ask.AfterBy...)),
		op("getRough", "GET /rough", shop.SeeMoney,
			"What a design would come to that has no stitch file yet: stitches, time and price as ranges.",
			gives(getRough), number("width", "mm"), number("height", "mm"), text("kind", "badge where left out", "badge", "lettering", "jacket back"),
			text("cover", "how much of its box is sewn over; half where left out", "light", "half", "full"),
			integer("colours", "4 where left out"), integer("quantity", "pieces; 24 where left out"), text("cap", "1: on caps", "1"),
			text("design", "ID of the file, once it has come")),
		op("keepRough", "POST /orders/rough", shop.KeepOrders,
			"Keep what a design would come to that has no file yet, in an order that asks for it.", makes(keepRough)),
		op("roughCame", "POST /orders/{order}/rough", shop.KeepOrders,
			"Put the design that came in the place of what had no file yet, as a line of the order; or take it out.", onOrder(roughCame)),
		op("takeOrderTable", "POST /orders/table", shop.KeepOrders,
			"Take the orders of a table in: all, or none where one has something wrong. What came before is not taken in twice.",
			takes(takeOrderTable)),
		op("addOrder", "POST /orders", shop.KeepOrders,
			"Take an order in. What a planner should know comes as notes.", makes(addOrder)),
		op("getOrder", "GET /orders/{order}", shop.Look, "One order, by its ID or number.", ofOrder(getOrder)),
		op("changeOrder", "PUT /orders/{order}", shop.KeepOrders,
			"Change what it asks for. base is the version it was made from; a line without a number is new, one "+
				"left out is taken out.",
			onOrder(changeOrder)),
		op("moveOrder", "POST /orders/{order}/state", shop.KeepOrders,
			"Take it to another state.", onOrder(moveOrder)),
		op("getOrderHistory", "GET /orders/{order}/history", shop.Look,
			"All that was done to it, oldest first.", ofOrder(getOrderHistory)),
		op("listReports", "GET /orders/{order}/reports", shop.Look,
			"What the floor reported of it, oldest first.", ofOrder(listReports)),
		op("recordPieces", "POST /orders/{order}/reports", shop.RecordPieces,
			"Confirm pieces, breaks and times. More good pieces than are left to sew is an error at the key over "+
				"until over is set.", onOrder(recordPieces).as(201)),
		op("correctReport", "PUT /orders/{order}/reports/{report}", shop.RecordPieces,
			"Put another report in the place of one, by its ID or number: all of it. The old one stays in the list, "+
				"taken back; the order's pieces and state follow.", onOrder(correctReport)),
		op("takeBackReport", "POST /orders/{order}/reports/{report}/undo", shop.RecordPieces,
			"Take a report back: it stays in the list and no longer counts; the order's pieces and state follow.",
			onOrder(takeBackReport)),
		op("listDeliveries", "GET /orders/{order}/deliveries", shop.Look,
			"What the customer got of it, oldest first.", ofOrder(listDeliveries)),
		op("deliverPieces", "POST /orders/{order}/deliveries", shop.KeepOrders,
			"Say that the customer got a part of a line.", onOrder(deliverPieces).as(201)),
		op("takeBackDelivery", "POST /orders/{order}/deliveries/{delivery}/undo", shop.KeepOrders,
			"Take a delivery back: it stays in the list and no longer counts.", onOrder(takeBackDelivery)),
		op("startLine", "POST /orders/{order}/start", shop.RecordPieces,
			"Say that a line is on a machine now.", onOrder(startLine)),
		op("garmentsCame", "POST /orders/{order}/garments", shop.KeepOrders,
			"Say that a delivery of a line's garments came, or that it comes on another day.", onOrder(garmentsCame)),
		op("holdLine", "POST /orders/{order}/hold", shop.KeepOrders,
			"Hold a line on a machine whatever the plan would find better; the next plan has it there.",
			onOrder(holdLine)),
		op("releaseLine", "POST /orders/{order}/release", shop.KeepOrders,
			"Let the plan place a line freely; one on a machine is taken off it.", onOrder(releaseLine)),
		op("getPromise", "GET /orders/{order}/promise", shop.Look,
			"The day that can be promised for it, wherever the plan has room for it; nothing is kept.",
			ofOrder(getPromise), number("chance", "that the day is met, 0.5 to 0.995; the workshop's where left out")),
		op("listQuotes", "GET /orders/{order}/quotes", shop.SeeMoney,
			"Its kept quotes, newest first.", ofOrder(listQuotes)),
		op("makeQuote", "POST /orders/{order}/quotes", shop.SeeMoney,
			"Price it in quantity steps and find the day to promise; kept where asked.", onOrder(makeQuote)),
		op("getQuoteFile", "GET /orders/{order}/quotes/{quote}/{file}", shop.SeeMoney,
			"A kept quote as quote.pdf (for the customer: without costs), quote.csv or quote.xlsx.",
			file("application/pdf,text/csv,"+serve.XLSXType, (*call).QuoteFile), text("paper",
				"of the PDF; the shop's where left out", "A4", "Letter")),
		op("getRunSheet", "GET /orders/{order}/runsheet", shop.Look,
			"What the floor needs to sew a line on a machine.", gives(getRunSheet), runSheetQuery...),
		op("getRunSheetPDF", "GET /orders/{order}/runsheet.pdf", shop.Look,
			"The same on paper.",
			file("application/pdf", (*call).RunSheetFile), append(runSheetQuery,
				param{"paper", "string", "the shop's where left out", []string{"A4", "Letter"}})...),
	}
}

var runSheetQuery = []param{{"line", "integer", "the first where left out", nil},
	{"machine", "string", "where the plan or a hold has it where left out", nil},
	{"quantity", "integer", "what the plan puts there where left out", nil},
	{"colour", "string", "of the garments, where the line's threads differ by it; the first that are left where left out", nil}}

func orderStateNames() (out []string) {
	for _, s := range book.OrderStates {
		out = append(out, string(s))
	}
	return out
}

type orderPage struct {
	Orders []*book.Order `json:"orders"`
	Total  int           `json:"total"`
}

func listOrders(c *call) (*orderPage, error) {
	q := c.Query()
	ask := shop.OrderQuery{Search: q.Get("search"), Sort: q.OneOf("sort", "", shop.OrderSorts...), Reverse: q.Yes("reverse"),
		Offset: q.Integer("offset", 0), Limit: q.Integer("limit", 50)}
	if s := q.OneOf("state", "", orderStateNames()...); s != "" {
		ask.States = []book.OrderState{book.OrderState(s)}
	}
	if q.Err != nil {
		return nil, q.Err
	}
	all, total, err := c.Shop.Orders.List(c.Ctx, ask)
	return &orderPage{orEmpty(all), total}, err
}

// orderNew is an order as it is asked for.
type orderNew struct {
	Customer string      `json:"customer"`
	Address  []string    `json:"customer_address,omitempty" doc:"in lines, for the papers"`
	Their    string      `json:"purchase_order,omitempty" doc:"the customer's own number for the order"`
	Note     string      `json:"note,omitempty"`
	Due      string      `json:"due,omitempty" doc:"ISO 8601 day in the workshop's time zone"`
	Latest   string      `json:"latest,omitempty" doc:"day after which it is of no use to the customer"`
	Goods    string      `json:"goods,omitempty" doc:"day the garments come; left out: they are here"`
	Promised string      `json:"promised,omitempty" doc:"day the customer was told"`
	Weight   *float64    `json:"weight,omitempty" doc:"priority; left out: 1"`
	State    string      `json:"state,omitempty" doc:"of a new order" enum:"requested,agreed"`
	Together bool        `json:"together,omitempty" doc:"all lines go to the customer in one delivery"`
	Base     int         `json:"base,omitempty" doc:"when changing: the version it was made from"`
	Lines    []orderPart `json:"lines"`
}

// orderPart is one line of it.
type orderPart struct {
	Line         int            `json:"line,omitempty" doc:"when changing: which line it is"`
	Design       string         `json:"design"`
	Quantity     int            `json:"quantity,omitempty" doc:"pieces; needed unless there are sizes"`
	Placement    string         `json:"placement,omitempty"`
	Garment      string         `json:"garment,omitempty"`
	Threads      []string       `json:"threads,omitempty" doc:"colour of each block; left out: the design's"`
	Digitize     bool           `json:"digitize,omitempty"`
	MostMachines int            `json:"most_machines,omitempty"`
	Speed        float64        `json:"speed,omitempty"`
	CapFrame     bool           `json:"cap_frame,omitempty"`
	Metallic     bool           `json:"metallic,omitempty"`
	Heavy        float64        `json:"heavy,omitempty"`
	Sizes        []book.SizeRow `json:"sizes,omitempty" doc:"garments by colour and size; they come to the quantity, which may be left out then"`
	// GarmentThreads are threads by garment colour.
	GarmentThreads []book.GarmentThreads `json:"garment_threads,omitempty" doc:"threads, block by block, on garments of a colour; left out: threads"`
	// Deliveries are when the garments come.
	Deliveries []book.Delivery `json:"deliveries,omitempty" doc:"garments that come in deliveries; the others come with the order's goods"`
	// Approval is the customer's word on the sample.
	Approval book.Approval `json:"approval,omitzero" doc:"days: due (expected), sent (the sample), given (approved); until it is given the line is not sewn"`
	// Partner makes it in place of the shop's machines.
	Partner book.Partner `json:"partner,omitzero" doc:"another workshop that makes it: name, days (of the calendar, until it is back), price (a piece, without tax), sent and back (days)"`
	// Names are the pieces one by one.
	Names       []book.NameRow `json:"names,omitempty" doc:"pieces one by one, each with its own stitch file (a design by its ID, name or file; left out: the one called as the name); they come to the quantity, which may be left out then"`
	NamesAlone  bool           `json:"names_alone,omitempty" doc:"each piece is sewn with its own file alone; else its lettering follows the line's design"`
	NameThreads []string       `json:"name_threads,omitempty" doc:"threads of the lettering, block by block; left out: the files' own"`
	Job         string         `json:"job,omitempty" doc:"kinds of job with + between: cap-frame, large-hoop, heavy, metallic, woollen"`
}

func (in *orderNew) over(c *call, o book.Order) (book.Order, error) {
	o.Customer, o.CustomerAddress, o.PurchaseOrder, o.Note = in.Customer, in.Address, in.Their, in.Note
	for _, d := range []struct {
		what, text string
		to         *words.Day
	}{{"due day", in.Due, &o.Due}, {"latest day", in.Latest, &o.Latest}, {"day the goods come", in.Goods, &o.Goods},
		{"promised day", in.Promised, &o.Promised}} {
		var err error
		if *d.to, err = day(d.what, d.text); err != nil {
			return o, err
		}
	}
	o.Together = in.Together
	if in.Weight != nil {
		o.Weight = *in.Weight
	} else if o.ID == "" {
		o.Weight = 1
	}
	o.Lines = nil
	for _, l := range in.Lines {
		kinds, err := machine.ParseJobs(l.Job)
		if err != nil {
			return o, shop.At("job", shop.Invalidf("%w", err))
		}
		if l.Quantity == 0 {
			l.Quantity = cmp.Or(book.InSizes(l.Sizes), len(l.Names))
		}
		names, err := c.Shop.NameFiles(c.Ctx, l.Names)
		if err != nil {
			return o, err
		}
		o.Lines = append(o.Lines, book.OrderLine{Line: l.Line, DesignID: l.Design, Quantity: l.Quantity,
			Placement: l.Placement, Garment: l.Garment, Threads: l.Threads, Digitize: l.Digitize,
			MostMachines: l.MostMachines,
			LineGoods: book.LineGoods{Speed: l.Speed, CapFrame: l.CapFrame, Metallic: l.Metallic, Heavy: l.Heavy,
				Job: kinds},
			LinePieces: book.LinePieces{Sizes: l.Sizes, GarmentThreads: l.GarmentThreads,
				Deliveries: l.Deliveries, Approval: l.Approval, Partner: l.Partner,
				LineNames: book.LineNames{Names: names, NamesAlone: l.NamesAlone, NameThreads: l.NameThreads}}})
	}
	return o, nil
}

// day reads a day that a request has as text.
func day(what, s string) (words.Day, error) {
	d, err := words.ParseDay(s)
	if err != nil {
		return d, shop.Invalidf("the %s: %w", what, err)
	}
	return d, nil
}

// withoutPrices is an answer for who may not see money: what partners ask is not in
// its orders.
func withoutPrices(out any) any {
	switch v := out.(type) {
	case *book.Order:
		return v.WithoutPrices()
	case *orderKept:
		v.Order = v.Order.WithoutPrices()
	case *recordedAnswer:
		v.Order = v.Order.WithoutPrices()
	case *deliveredAnswer:
		v.Order = v.Order.WithoutPrices()
	case *orderPage:
		for i, o := range v.Orders {
			v.Orders[i] = o.WithoutPrices()
		}
	}
	return out
}

// orderKept is an order with what a planner should know of it.
type orderKept struct {
	Order *book.Order `json:"order"`
	Notes []string    `json:"notes"`
}

func getRough(c *call) (*ask.RoughAnswer, error) {
	q := c.Query()
	in := ask.RoughQuestion{Width: q.Number("width"), Height: q.Number("height"), Kind: q.OneOf("kind", "", "badge", "lettering", "jacket back"),
		Cover: q.OneOf("cover", "", "light", "half", "full"), Colours: q.Integer("colours", 0), Quantity: q.Integer("quantity", 0),
		CapFrame: q.OneOf("cap", "", "1") == "1", Design: q.Get("design")}
	if q.Err != nil {
		return nil, q.Err
	}
	return ask.Rough(c.Ctx, c.Shop.Asked(), in)
}

// roughNew is a design without a file that an order asks for.
type roughNew struct {
	Width     float64 `json:"width" doc:"mm"`
	Height    float64 `json:"height" doc:"mm"`
	Kind      string  `json:"kind,omitempty" doc:"badge where left out" enum:"badge,lettering,jacket back"`
	Cover     string  `json:"cover,omitempty" doc:"half where left out" enum:"light,half,full"`
	Colours   int     `json:"colours,omitempty"`
	Quantity  int     `json:"quantity,omitempty" doc:"pieces"`
	CapFrame  bool    `json:"cap_frame,omitempty"`
	Placement string  `json:"placement,omitempty"`
	Garment   string  `json:"garment,omitempty"`
	Order     string  `json:"order,omitempty" doc:"number or ID of an order that asks for it too; left out: a new one is made"`
	Base      int     `json:"base,omitempty" doc:"version of that order, as it was looked at"`
	Customer  string  `json:"customer,omitempty" doc:"of a new order"`
	Due       string  `json:"due,omitempty" doc:"of a new order"`
}

func keepRough(c *call, in roughNew) (*book.Order, error) {
	due, err := day("due day", in.Due)
	if err != nil {
		return nil, err
	}
	q := act.RoughKeeping{RoughQuestion: ask.RoughQuestion{Width: in.Width, Height: in.Height, Kind: in.Kind, Cover: in.Cover,
		Colours: in.Colours, Quantity: in.Quantity, CapFrame: in.CapFrame}, New: book.Order{Customer: in.Customer, Due: due, Weight: 1},
		Placement: in.Placement, Garment: in.Garment, Version: in.Base}
	if in.Order != "" {
		o, err := c.Shop.Orders.Get(c.Ctx, in.Order)
		if err != nil {
			return nil, err
		}
		q.Order = o.ID
	}
	return c.Shop.KeepRough(c.Ctx, q, c.By())
}

// fileCame is the design that came.
type fileCame struct {
	Rough  int    `json:"rough" doc:"which of the order's roughs, from 1"`
	Design string `json:"design,omitempty" doc:"ID of the design; left out: it is taken out"`
	Base   int    `json:"base,omitempty" doc:"version of the order, as it was looked at"`
}

func roughCame(c *call, o *book.Order, in fileCame) (*book.Order, error) {
	return c.Shop.RoughCame(c.Ctx, o.ID, in.Base, in.Rough, in.Design, c.By())
}

// tableTaken is a table of orders.
type tableTaken struct {
	Text     string            `json:"text,omitempty" doc:"the table as text, with commas, semicolons or tabs between"`
	XLSX     []byte            `json:"xlsx,omitempty" doc:"or a workbook, in base64"`
	CSV      []byte            `json:"csv,omitempty" doc:"or a file of text in base64, whatever its letters"`
	Sheet    string            `json:"sheet,omitempty" doc:"of a workbook; left out: the first that is shown and has anything in it"`
	Letters  string            `json:"letters,omitempty" doc:"of a text that is not Unicode, e.g. windows-1252; left out: as it looks"`
	Columns  map[string]string `json:"columns,omitempty" doc:"field of an order to heading, where the headings do not say it"`
	Days     string            `json:"days,omitempty" enum:"dmy,mdy" doc:"how days as 3/4/2026 are written; left out: as the table shows"`
	GoodOnly bool              `json:"good_only,omitempty" doc:"take the good ones in where others have something wrong"`
	Try      bool              `json:"try,omitempty" doc:"keep nothing"`
}

func takeOrderTable(c *call, in tableTaken) (*ask.OrderTableAnswer, error) {
	q := act.TableQuestion{Name: "table.csv", Data: []byte(in.Text), Columns: in.Columns, Days: in.Days, GoodOnly: in.GoodOnly,
		Try: in.Try, Sheet: in.Sheet, Letters: in.Letters}
	if len(in.CSV) > 0 {
		q.Data = in.CSV
	}
	if len(in.XLSX) > 0 {
		q.Name, q.Data = "table.xlsx", in.XLSX
	}
	return c.Shop.TakeTable(c.Ctx, q, c.By())
}

func addOrder(c *call, in orderNew) (*orderKept, error) {
	o, err := in.over(c, book.Order{State: book.OrderState(in.State)})
	if err != nil {
		return nil, err
	}
	added, notes, err := c.Shop.AddOrder(c.Ctx, o, c.By())
	return &orderKept{added, orEmpty(notes)}, err
}

func getOrder(c *call, o *book.Order) (*orderKept, error) {
	notes, err := c.Shop.OrderNotes(c.Ctx, o)
	return &orderKept{o, orEmpty(notes.Lines())}, err
}

func changeOrder(c *call, was *book.Order, in orderNew) (*orderKept, error) {
	o, err := in.over(c, *was)
	if err != nil {
		return nil, err
	}
	o.Version = in.Base
	kept, notes, err := c.Shop.ChangeOrder(c.Ctx, o, c.By())
	return &orderKept{kept, orEmpty(notes)}, err
}

func getAfter(c *call) (*ask.AfterAnswer, error) {
	q := c.Query()
	by := q.OneOf("by", "", ask.AfterBy...)
	if q.Err != nil {
		return nil, q.Err
	}
	return ask.After(c.Ctx, c.Shop.Asked(), ask.AfterQuestion{By: by})
}

type orderMove struct {
	To   string `json:"to" enum:"requested,quoted,agreed,sewing,sewn,delivered,withdrawn"`
	Note string `json:"note,omitempty" doc:"why; kept in the history"`
	Base int    `json:"base,omitempty" doc:"the version that was seen; left out: whatever it is"`
}

func moveOrder(c *call, o *book.Order, in orderMove) (*book.Order, error) {
	return c.Shop.Orders.Move(c.Ctx, o.ID, in.Base, book.OrderState(in.To), in.Note, c.By())
}

type orderHistory struct {
	Changes []book.Change `json:"changes"`
}

func getOrderHistory(c *call, o *book.Order) (*orderHistory, error) {
	all, err := c.Shop.Orders.History(c.Ctx, o.ID)
	return &orderHistory{orEmpty(all)}, err
}

type reportPage struct {
	Reports []book.Report `json:"reports"`
}

func listReports(c *call, o *book.Order) (*reportPage, error) {
	all, err := c.Shop.Orders.Reports(c.Ctx, o.ID)
	return &reportPage{orEmpty(all)}, err
}

// reportNew is what the floor confirms.
type reportNew struct {
	Line     int     `json:"line"`
	Machine  string  `json:"machine"`
	Day      string  `json:"day,omitempty" doc:"left out: today"`
	Good     int     `json:"good"`
	Spoilt   int     `json:"spoilt,omitempty"`
	Again    int     `json:"again,omitempty" doc:"of the spoilt ones: their garment is unpicked and sewn again; the others need a new garment"`
	Breaks   *int    `json:"breaks,omitempty" doc:"thread breaks; left out: not counted"`
	Seconds  float64 `json:"seconds,omitempty" doc:"the pieces held the machine, without pauses and the set-up; left out: not timed"`
	RunTimed float64 `json:"run_seconds,omitempty" doc:"one run by the watch, which feeds learning"`
	SetSpeed float64 `json:"set_speed,omitempty" doc:"left out: the line's"`
	Colour   string  `json:"garment_colour,omitempty" doc:"of the garments; left out: counted from the top of the table of sizes"`
	Note     string  `json:"note,omitempty"`
	Off      bool    `json:"off,omitempty" doc:"it comes off the machine though pieces are left"`
	Over     bool    `json:"over,omitempty" doc:"more good pieces than ordered are meant"`
	Sure     bool    `json:"sure,omitempty" doc:"the timed run is right, however far it lies from what was predicted"`
	Key      string  `json:"key,omitempty" doc:"20 letters a to z and digits 2 to 7 at random: sent again under it, nothing is made twice"`
	Base     int     `json:"base,omitempty" doc:"the version of the order that was seen; left out: whatever it is"`
}

// recordedAnswer is what came of a report.
type recordedAnswer struct {
	Report    book.Report `json:"report"`
	Order     *book.Order `json:"order"`
	Real      float64     `json:"seconds_per_piece" doc:"0: not timed"`
	Predicted float64     `json:"predicted_seconds_per_piece"`
	Notes     []string    `json:"notes" doc:"what is odd about it"`
}

// report is what was sent, as the shop takes it.
func (in *reportNew) report(o *book.Order) (r book.Report, how act.Recording, err error) {
	r = book.Report{OrderID: o.ID, Line: in.Line, MachineID: in.Machine, Good: in.Good, Spoilt: in.Spoilt,
		Again: in.Again, Breaks: -1, Seconds: in.Seconds, RunTimed: in.RunTimed, SetSpeed: in.SetSpeed, Note: in.Note,
		Colour: in.Colour}
	if in.Breaks != nil {
		r.Breaks = *in.Breaks
	}
	r.Day, err = day("day", in.Day)
	return r, act.Recording{Off: in.Off, Over: in.Over, Saw: in.Base, Sure: in.Sure, Key: in.Key}, err
}

func recordedOf(rec *act.Recorded, err error) (*recordedAnswer, error) {
	if err != nil {
		return nil, err
	}
	return &recordedAnswer{rec.Report, rec.Order, rec.Real, rec.Predicted, orEmpty(rec.Notes)}, nil
}

func recordPieces(c *call, o *book.Order, in reportNew) (*recordedAnswer, error) {
	r, how, err := in.report(o)
	if err != nil {
		return nil, err
	}
	return recordedOf(c.Shop.Record(c.Ctx, r, how, c.By()))
}

func correctReport(c *call, o *book.Order, in reportNew) (*recordedAnswer, error) {
	r, how, err := in.report(o)
	if err != nil {
		return nil, err
	}
	return recordedOf(c.Shop.Correct(c.Ctx, o.ID, c.PathValue("report"), r, how, c.By()))
}

// backNew asks for a report or a delivery to be taken back.
type backNew struct {
	Why  string `json:"why,omitempty" doc:"kept in the history"`
	Base int    `json:"base,omitempty" doc:"the version of the order that was seen; left out: whatever it is"`
}

func takeBackReport(c *call, o *book.Order, in backNew) (*book.Order, error) {
	return c.Shop.TakeBack(c.Ctx, o.ID, c.PathValue("report"), in.Base, in.Why, c.By())
}

type deliveryPage struct {
	Deliveries []book.HandOver `json:"deliveries"`
}

func listDeliveries(c *call, o *book.Order) (*deliveryPage, error) {
	all, err := c.Shop.Orders.Deliveries(c.Ctx, o.ID)
	return &deliveryPage{orEmpty(all)}, err
}

// deliveryNew is a part of a line that the customer got.
type deliveryNew struct {
	Line   int    `json:"line"`
	Pieces int    `json:"pieces,omitempty" doc:"left out: all that are sewn and not delivered yet"`
	Day    string `json:"day,omitempty" doc:"left out: today"`
	Note   string `json:"note,omitempty"`
	Base   int    `json:"base,omitempty" doc:"the version of the order that was seen; left out: whatever it is"`
}

// deliveredAnswer is what came of a delivery.
type deliveredAnswer struct {
	Delivery *book.HandOver `json:"delivery"`
	Order    *book.Order    `json:"order"`
}

func deliverPieces(c *call, o *book.Order, in deliveryNew) (*deliveredAnswer, error) {
	on, err := day("day", in.Day)
	if err != nil {
		return nil, err
	}
	kept, d, err := c.Shop.Deliver(c.Ctx, book.HandOver{OrderID: o.ID, Line: in.Line, Pieces: in.Pieces, Day: on,
		Note: in.Note}, in.Base, c.By())
	return &deliveredAnswer{d, kept}, err
}

func takeBackDelivery(c *call, o *book.Order, in backNew) (*book.Order, error) {
	return c.Shop.TakeBackDelivery(c.Ctx, o.ID, c.PathValue("delivery"), in.Base, in.Why, c.By())
}

type lineOnMachine struct {
	Line     int    `json:"line"`
	Machine  string `json:"machine"`
	Quantity int    `json:"quantity,omitempty" doc:"left out: what the plan leaves the machine where it parts the line, else all that are left"`
	Colour   string `json:"garment_colour,omitempty" doc:"of the garments that are meant, where the line's threads differ by it"`
	// GoodsHere answers the question that is asked before the goods' day.
	GoodsHere bool `json:"goods_here,omitempty" doc:"start: the goods are here, though the order says that they come later"`
}

func startLine(c *call, o *book.Order, in lineOnMachine) (*book.Order, error) {
	if in.GoodsHere {
		if _, err := c.Shop.GoodsHere(c.Ctx, o.ID, in.Line, c.By()); err != nil {
			return nil, err
		}
	}
	return c.Shop.Start(c.Ctx, o.ID, in.Line, in.Machine, in.Quantity, in.Colour, c.By())
}

type garmentsNew struct {
	Line int    `json:"line"`
	Due  string `json:"due" doc:"the day on which they were to come"`
	Came string `json:"came,omitempty" doc:"the day on which they came; left out: today"`
	Late string `json:"late,omitempty" doc:"they are not here: the day on which they come now"`
	Base int    `json:"base,omitempty" doc:"the version that was seen; left out: whatever it is"`
}

func garmentsCame(c *call, o *book.Order, in garmentsNew) (*orderKept, error) {
	q := act.GarmentsQuestion{Order: o.ID, Version: in.Base, Line: in.Line}
	var err error
	for _, d := range []struct {
		what, text string
		to         *words.Day
	}{{"day they were to come", in.Due, &q.Due}, {"day they came", in.Came, &q.Came}, {"day they come", in.Late, &q.Late}} {
		if *d.to, err = day(d.what, d.text); err != nil {
			return nil, err
		}
	}
	kept, notes, err := c.Shop.GarmentsCame(c.Ctx, q, c.By())
	return &orderKept{kept, orEmpty(notes)}, err
}

type lineHold struct {
	Line    int    `json:"line"`
	Machine string `json:"machine"`
	At      string `json:"at,omitempty" doc:"not before, in the workshop's time zone, e.g. 2026-03-04 13:00; left out: any time"`
	// Seen guards a move whose cost somebody looked at.
	Seen *book.Seen `json:"seen,omitempty" doc:"of the move that was looked at: held only if all is as it was then"`
}

func holdLine(c *call, o *book.Order, in lineHold) (*book.Order, error) {
	w, _, err := c.Shop.Setups.Workshop(c.Ctx)
	if err != nil {
		return nil, err
	}
	var at time.Time
	if in.At != "" {
		if at, err = w.WallTime(in.At); err != nil {
			return nil, shop.Invalidf("%w", err)
		}
	}
	return c.Shop.HoldLine(c.Ctx, act.HoldQuestion{Order: o.ID, Line: in.Line, Machine: in.Machine, At: at,
		Saw: in.Seen}, c.By())
}

type lineOnly struct {
	Line int `json:"line"`
}

func releaseLine(c *call, o *book.Order, in lineOnly) (*book.Order, error) {
	return c.Shop.Orders.Release(c.Ctx, o.ID, in.Line, c.By())
}

func getPromise(c *call, o *book.Order) (*ask.PromiseAnswer, error) {
	query := c.Query()
	q := ask.PromiseQuestion{Now: c.Shop.Now(), Order: o.ID, Chance: query.Number("chance")}
	if query.Err != nil {
		return nil, query.Err
	}
	return ask.Promise(c.Shop.Elsewhere(c.Ctx), c.Shop.Asked(), q)
}

type quotePage struct {
	Quotes []*book.Quote `json:"quotes"`
}

func listQuotes(c *call, o *book.Order) (*quotePage, error) {
	all, err := c.Shop.Plans.Quotes(c.Ctx, o.ID)
	return &quotePage{orEmpty(all)}, err
}

type quoteNew struct {
	Chance     float64 `json:"chance,omitempty" doc:"of the day to promise, 0.5 to 0.995; left out: the workshop's"`
	Quantities []int   `json:"quantities,omitempty" doc:"steps; left out: the workshop's"`
	Machine    string  `json:"machine,omitempty" doc:"price it on this machine, which is to sew all of it; left out: the standard of the shop"`
	Discount   float64 `json:"discount_percent,omitempty" doc:"taken off lines and fees"`
	Delivery   float64 `json:"delivery,omitempty" doc:"what the delivery is charged, without tax"`
	Deposit    float64 `json:"deposit_percent,omitempty" doc:"of the total, paid before work begins"`
	Keep       bool    `json:"keep,omitempty" doc:"keep the quote; a requested order then is quoted"`
	// Seen guards a quote that somebody looked at.
	Seen *book.Seen `json:"seen,omitempty" doc:"of the answer that was looked at: kept only if all is as it was then"`
}

func makeQuote(c *call, o *book.Order, in quoteNew) (*ask.PricedOrder, error) {
	q := ask.QuoteQuestion{
		Now: c.Shop.Now(), Order: o.ID, Chance: in.Chance, Quantities: in.Quantities, Machine: in.Machine,
		QuoteAgreed: ask.QuoteAgreed{Discount: money.Measured(in.Discount), Delivery: money.Measured(in.Delivery),
			Deposit: money.Measured(in.Deposit)},
	}
	if in.Keep {
		return c.Shop.KeepQuote(c.Ctx, q, in.Seen, c.By())
	}
	return ask.Quote(c.Shop.Elsewhere(c.Ctx), c.Shop.Asked(), q)
}

func getRunSheet(c *call) (*book.RunSheet, error) {
	_, r, err := c.RunSheet()
	return r, err
}
