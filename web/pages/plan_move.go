package pages

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// handData is the form that moves a job by hand, and what the move would cost.
type handData struct {
	Lots     []option
	More     bool // there are more
	Jobs     part // the list of Lots
	Machines []*handPlace
	Lot, To  string
	Place    int // from 1
	Places   []option
	Cost     *ask.HandMove
	Wrong    string
	At       string
	Seen     string // the state it was reckoned in
	Held     bool
	Running  bool
}

// handPlace is a machine a job can be put on.
type handPlace struct {
	ID, Name string
	Chosen   bool
}

// lotAsked is a lot as the form names it: "1003/2@machine".
func lotAsked(p *book.Plan, value string) *book.PlanLot {
	for i := range p.Lots {
		if lotValue(&p.Lots[i]) == value {
			return &p.Lots[i]
		}
	}
	return nil
}

// handMove fills the form and, where a lot is chosen, prices the move.
func (c *call) handMove(view *page, data *planData) error {
	p, q := data.P, c.URL.Query()
	h := &handData{Lot: q.Get("lot"), To: q.Get("to")}
	data.Hand = h
	for i, m := range data.Lots { // of a long plan the first ones and the chosen one: the script has the others
		if h.More = i >= rowsOnPage; !h.More || m.Value == h.Lot {
			h.Lots = append(h.Lots, option{m.Value, m.Said})
		}
	}
	if h.Lot == "" {
		for _, m := range p.Machines {
			h.Machines = append(h.Machines, &handPlace{m.ID, m.Name, false})
		}
		return nil
	}
	lot := lotAsked(p, h.Lot)
	if lot == nil {
		h.Wrong = words.Say("hand.gone").Text(data.D.W)
		h.Lot = ""
		return nil
	}
	if h.To == "" {
		h.To = lot.MachineID
	}
	for _, m := range p.Machines {
		h.Machines = append(h.Machines, &handPlace{m.ID, m.Name, m.ID == h.To})
	}
	h.Held, h.Running = lot.Held, lot.Running
	queue := queueOf(p, h.To, lot)
	h.Place, _ = strconv.Atoi(q.Get("place"))
	if h.Place < 1 || h.Place > len(queue)+1 {
		h.Place = len(queue) + 1
		if h.To == lot.MachineID { // where it is
			for i, l := range queue {
				if l.From.After(lot.From) {
					h.Place = i + 1
					break
				}
			}
		}
	}
	h.Places = append(h.Places, option{"1", words.Say("hand.first").Text(data.D.W)})
	for i, l := range queue {
		h.Places = append(h.Places, option{strconv.Itoa(i + 2), words.Say("hand.after", words.Args{"order": words.Name(l.Name), "customer": words.Name(l.Customer)}).Text(data.D.W)})
	}
	if lot.Running {
		h.Wrong = runningText(lot).Text(data.D.W)
		return nil
	}
	cost, err := ask.Move(c.Ctx, c.Shop.Asked(), ask.MoveQuestion{Now: c.Shop.Now(),
		Order: lot.OrderID, Line: lot.Line, From: lot.MachineID, To: h.To, Place: h.Place,
	})
	if code := shop.CodeOf(err); code == shop.Invalid || code == shop.NotFound {
		h.Wrong = c.moveWrong(lot, h.To, err)
		return nil
	}
	if err != nil {
		return err
	}
	h.Cost, h.At, h.Seen = cost, data.D.Local(cost.From), cost.Seen.String()
	view.addTables(data.D.W, cost.LineTable())
	return nil
}

func runningText(lot *book.PlanLot) words.Message {
	return words.Say("hand.running", words.Args{"order": words.Name(lot.Name), "machine": words.Name(lot.Machine)})
}

// moveWrong says why a lot cannot be put on a machine.
func (c *call) moveWrong(lot *book.PlanLot, machineID string, err error) string {
	if lot.Held && machineID != lot.MachineID {
		return words.Say("hand.held", words.Args{"order": words.Name(lot.Name), "machine": words.Name(lot.Machine)}).Text(c.writer())
	}
	if o, oerr := c.Shop.Orders.Get(c.Ctx, lot.OrderID); oerr == nil {
		if l := o.Line(lot.Line); l != nil && slices.ContainsFunc(l.Holds,
			func(h book.Hold) bool { return h.Running }) {
			return runningText(lot).Text(c.writer())
		}
	}
	return words.Sentence(shop.ErrorOf(err).In(c.writer()))
}

// queueOf is what stands on a machine beside a lot, in its order.
func queueOf(p *book.Plan, machineID string, but *book.PlanLot) []*book.PlanLot {
	var out []*book.PlanLot
	for i := range p.Lots {
		if l := &p.Lots[i]; l.MachineID == machineID && l != but {
			out = append(out, l)
		}
	}
	return out
}

// holdForm puts a job where it was asked to be, holds it there and plans anew.
// What is wrong is told on the plan, with the move as it was asked for.
func holdForm(c *call) error {
	var in holdFields
	return c.sent(&in, func(*form) (string, error) { return "", in.hold(c) }, func(f *form) error {
		c.URL.Path = "/plan"
		c.URL.RawQuery = url.Values{"lot": {in.Lot}, "to": {in.To}, "place": {f.typed.Get("place")}}.Encode()
		f.name = "pressed"
		return c.planPage(f)
	})
}

type holdFields struct {
	Lot     string     `toml:"lot"`
	To      string     `toml:"to"`
	Place   *count     `toml:"place"`
	Seen    *book.Seen `toml:"seen"`
	Release bool       `toml:"release"`
}

func (in *holdFields) hold(c *call) error {
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	if p == nil {
		return shop.Saying(shop.NotFound, words.Say("refused.no-plan"))
	}
	lot := lotAsked(p, in.Lot)
	switch {
	case lot == nil:
		return shop.Saying(shop.Conflict, words.Say("refused.job-gone"))
	case in.Release:
		if _, err := c.Shop.Orders.Release(c.Ctx, lot.OrderID, lot.Line, c.By()); err != nil {
			return err
		}
		return c.planAnew(ask.PlanQuestion{}, "/plan")
	case in.Place == nil:
		return shop.Saying(shop.Invalid, words.Say("refused.no-place"))
	}
	cost, err := ask.Move(c.Ctx, c.Shop.Asked(), ask.MoveQuestion{Now: c.Shop.Now(),
		Order: lot.OrderID, Line: lot.Line, From: lot.MachineID, To: in.To, Place: int(*in.Place),
	})
	if err != nil {
		return err
	}
	hold := act.HoldQuestion{Order: lot.OrderID, Line: lot.Line, Machine: in.To, At: cost.From, Saw: in.Seen}
	if _, err := c.Shop.HoldLine(c.Ctx, hold, c.By()); err != nil {
		return err
	}
	return c.planAnew(ask.PlanQuestion{}, "/plan")
}

// lineName names a line of an order for people.
func lineName(o *book.Order, line int) string {
	if len(o.Lines) == 1 {
		return strconv.Itoa(o.Number)
	}
	return fmt.Sprintf("%d/%d", o.Number, line)
}
