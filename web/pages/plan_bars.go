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
	// Lots are by machine and time: number, line, several lines (1) or one (0),
	// machine, customer, design, pieces, pieces sewn, set-up begins, set-up ends,
	// sewing begins, ends, risk (0 none, 1 some, 2 late), chance (−1: no due day),
	// and what it is: 1 on the machine now, 2 held by hand, 4 made again. Machine,
	// customer, design and chance count from 0 in their lists.
	Lots [][15]int64 `json:"lots"`
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

// showBars gives the kept plan as the page draws it.
func showBars(c *call) error {
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	if p == nil {
		return shop.Errorf(shop.NotFound, "there is no plan yet; make one first")
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
		Machines: []barMachine{}, Opens: [][]int64{}, Lots: [][15]int64{}}
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
	for i := range p.Lots {
		l := &p.Lots[i]
		lot := [15]int64{int64(l.Number), int64(l.Line), 0, machines[l.MachineID], customers.of(l.Customer), designs.of(l.DesignID),
			int64(l.Quantity), int64(sewn[i]), at(l.SetupFrom), at(l.SetupFrom) + int64(l.Setup), at(l.From), at(l.To), 0, -1, 0}
		if l.Name != strconv.Itoa(l.Number) {
			lot[2] = 1
		}
		if e := ends[line(l.OrderID, l.Line)]; e != nil {
			lot[12] = map[book.Risk]int64{book.AtRisk: 1, book.IsLate: 2}[p.Risk(e)]
			if e.OnTime >= 0 {
				lot[13] = chances.of(words.Chance(e.OnTime).Text(w))
			}
		}
		at := lineOn{l.OrderID, l.Line, l.MachineID}
		running := on[at]
		delete(on, at) // the first of its lots there
		for bit, is := range map[int64]bool{barRunning: running, barHeld: l.Held && !running, barAgain: l.Again} {
			if is {
				lot[14] |= bit
			}
		}
		out.Lots = append(out.Lots, lot)
	}
	out.Customers, out.Designs, out.Chances = customers.all, designs.all, chances.all
	return out
}
