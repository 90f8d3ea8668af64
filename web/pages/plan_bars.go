package pages

import (
	"encoding/json"
	"strconv"
	"time"

	"needlepace/book"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/words"
)

// barsSent is the kept plan as the page's script draws it: short, since a plan has
// thousands of lots. Times are seconds after From.
type barsSent struct {
	Version  int          `json:"version"`
	From     int64        `json:"from"` // Unix time
	Now      int64        `json:"now"`
	Zone     string       `json:"zone"`
	Hours12  bool         `json:"hours12"`
	Days     []barDay     `json:"days"`
	Opens    [][]int64    `json:"opens"` // when machines may run: from, to, from, to …
	Machines []barMachine `json:"machines"`

	Customers []string `json:"customers"`
	Designs   []string `json:"designs"`
	Chances   []string `json:"chances"` // to be in time, in words
	Lots      barLots  `json:"lots"`
}

// barLots are the lots by machine and time, something of all in turn: so they pack in half. Machine and chance
// count from 0 in their lists; customer and design are 0 for the next in their list, else how many before that.
type barLots struct {
	Number   []int64 `json:"number"`
	Line     []int64 `json:"line"`
	Lines    []int64 `json:"lines"` // of its order: several (1) or one (0)
	Machine  []int64 `json:"machine"`
	Customer []int64 `json:"customer"`
	Design   []int64 `json:"design"`
	Pieces   []int64 `json:"pieces"`
	Sewn     []int64 `json:"sewn"`
	Free     []int64 `json:"free"`   // s from the lot before on the machine, or from the plan's begin, to its set-up
	SetUp    []int64 `json:"set_up"` // s
	Wait     []int64 `json:"wait"`   // s from the end of the set-up to the first stitch; below 0 where a set-up goes over a night
	Sews     []int64 `json:"sews"`   // s from the first stitch to the end
	Risk     []int64 `json:"risk"`   // 0 none, 1 some, 2 late
	Chance   []int64 `json:"chance"` // −1: no due day
	Is       []int64 `json:"is"`     // 1 on the machine now, 2 held by hand, 4 made again
}

type barDay struct {
	At    int64  `json:"at"`
	Label string `json:"label"`
}

type barMachine struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Heads string `json:"heads"`
	Open  int    `json:"open"` // its place in opens
}

// What a lot is.
const (
	barRunning = 1 << iota
	barHeld
	barAgain
)

// numbered are texts by number, each once.
type numbered struct {
	all []string
	at  map[string]int
}

func (n *numbered) of(s string) int64 {
	if n.at == nil {
		n.at, n.all = map[string]int{}, []string{}
	}
	k, ok := n.at[s]
	if !ok {
		k = len(n.all)
		n.at[s], n.all = k, append(n.all, s)
	}
	return int64(k)
}

// back is 0 for a text that is new, else how many of them before the next new one it stands.
func (n *numbered) back(s string) int64 {
	next := int64(len(n.all))
	if k := n.of(s); k < next {
		return next - k
	}
	return 0
}

// showBars gives the kept plan as the page draws it.
func showBars(c *call) error {
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	if p == nil {
		return shop.Saying(shop.NotFound, words.Say("refused.no-plan"))
	}
	reports, err := c.Shop.Orders.AllReports(c.Ctx)
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	orders, err := c.Shop.Asked().Planned(c.Ctx)
	if err != nil {
		return err
	}
	out := barsOf(p, p.Sewn(reports), onNow(orders), d.W, d.Now)
	c.W.Header().Set("Content-Type", "application/json")
	c.W.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(c.W).Encode(out)
}

// onNow are the lines that are on a machine at this moment, whatever the plan knew
// of it: by order, line and machine.
func onNow(orders []*book.Order) map[lineOn]bool {
	out := map[lineOn]bool{}
	for _, o := range orders {
		for i := range o.Lines {
			for _, h := range o.Lines[i].Holds {
				if h.Running {
					out[lineOn{o.ID, o.Lines[i].Line, h.MachineID}] = true
				}
			}
		}
	}
	return out
}

type lineOn struct {
	order   string
	line    int
	machine string
}

func barsOf(p *book.Plan, sewn []int, on map[lineOn]bool, w *words.Writer, now time.Time) *barsSent {
	at := func(t time.Time) int64 { return int64(t.Sub(p.From).Round(time.Second).Seconds()) }
	out := &barsSent{Version: p.Version, From: p.From.Unix(), Now: at(now), Zone: w.Zone.String(), Hours12: w.Hours12,
		Machines: []barMachine{}, Opens: [][]int64{}}
	opens, machines := map[string]int{}, map[string]int64{}
	for i, m := range p.Machines {
		var open []int64
		for _, o := range m.Open {
			open = append(open, at(o.From), at(o.To))
		}
		key, err := json.Marshal(open)
		k, ok := opens[string(key)]
		if !ok && err == nil {
			k = len(out.Opens)
			opens[string(key)], out.Opens = k, append(out.Opens, open)
		}
		machines[m.ID] = int64(i)
		out.Machines = append(out.Machines, barMachine{m.ID, m.Name, words.Count(m.Heads, "head").Text(w), k})
	}
	for _, t := range picture.PlanDays(p, w, now) {
		out.Days = append(out.Days, barDay{int64(t.At), t.Label})
	}
	ends := map[string]*book.LineEnd{}
	line := func(order string, line int) string { return order + "/" + strconv.Itoa(line) }
	for i := range p.Ends {
		ends[line(p.Ends[i].OrderID, p.Ends[i].Line)] = &p.Ends[i]
	}
	var customers, designs, chances numbered
	ended := map[int64]int64{} // the lot before, by machine
	for i := range p.Lots {
		l := &p.Lots[i]
		var lines, risk, is int64
		chance := int64(-1)
		if l.Name != strconv.Itoa(l.Number) {
			lines = 1
		}
		if e := ends[line(l.OrderID, l.Line)]; e != nil {
			risk = map[book.Risk]int64{book.AtRisk: 1, book.IsLate: 2}[p.Risk(e)]
			if e.OnTime >= 0 {
				chance = chances.of(words.Chance(e.OnTime).Text(w))
			}
		}
		where := lineOn{l.OrderID, l.Line, l.MachineID}
		running := on[where]
		delete(on, where) // the first of its lots there
		for bit, so := range map[int64]bool{barRunning: running, barHeld: l.Held && !running, barAgain: l.Again} {
			if so {
				is |= bit
			}
		}
		m, ready := machines[l.MachineID], at(l.SetupFrom)+int64(l.Setup)
		for _, v := range []struct {
			to *[]int64
			is int64
		}{
			{&out.Lots.Number, int64(l.Number)}, {&out.Lots.Line, int64(l.Line)}, {&out.Lots.Lines, lines}, {&out.Lots.Machine, m},
			{&out.Lots.Customer, customers.back(l.Customer)}, {&out.Lots.Design, designs.back(l.DesignID)},
			{&out.Lots.Pieces, int64(l.Quantity)}, {&out.Lots.Sewn, int64(sewn[i])}, {&out.Lots.Free, at(l.SetupFrom) - ended[m]},
			{&out.Lots.SetUp, int64(l.Setup)}, {&out.Lots.Wait, at(l.From) - ready}, {&out.Lots.Sews, at(l.To) - at(l.From)},
			{&out.Lots.Risk, risk}, {&out.Lots.Chance, chance}, {&out.Lots.Is, is},
		} {
			*v.to = append(*v.to, v.is)
		}
		ended[m] = at(l.To)
	}
	out.Customers, out.Designs, out.Chances = customers.all, designs.all, chances.all
	return out
}
