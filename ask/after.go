package ask

import (
	"cmp"
	"context"
	"slices"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// AfterFrom is where a question about jobs that are done finds them.
type AfterFrom interface {
	LineFrom
	// Done are the orders that are sewn or delivered.
	Done(ctx context.Context) ([]*book.Order, error)
	// KeptQuotes are an order's quotes, newest first.
	KeptQuotes(ctx context.Context, orderID string) ([]*book.Quote, error)
}

// AfterBy are what jobs that are done are summed up by.
var AfterBy = []string{"order", "design", "customer", "machine"}

// AfterQuestion asks how jobs that are done went against their quotes.
type AfterQuestion struct {
	By string // one of AfterBy; empty: order
}

// AfterAnswer is how jobs that are done went against their quotes. Its JSON is a
// written contract: later versions add keys and never change one.
type AfterAnswer struct {
	By       string          `json:"by"`
	Currency string          `json:"currency"`
	Rows     []AfterRow      `json:"rows" doc:"the most lost first"`
	All      AfterRow        `json:"all" doc:"the sum of the rows"`
	Untimed  int             `json:"untimed" doc:"reports without a time, or of an earlier version: they do not count"`
	Unquoted int             `json:"unquoted" doc:"lines without a kept quote: they do not count"`
	Reckoned int             `json:"reckoned" doc:"reports whose quote does not say what the line costs on the machine: its cost is reckoned by what machines cost now"`
	Unpriced int             `json:"unpriced" doc:"reports of a machine without prices, of which the quote does not say the cost: it counts as quoted"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats"`
}

// AfterRow is an order, a design, a customer or a machine. Seconds are of the
// machines; the parts are what of the sewn time was not quoted, and sum up to
// Sewn less Quoted.
type AfterRow struct {
	Name    string    `json:"name"`
	Pieces  int       `json:"pieces" doc:"good ones, in timed reports"`
	Quoted  float64   `json:"quoted_seconds"`
	Sewn    float64   `json:"sewn_seconds"`
	Spoilt  float64   `json:"spoilt_seconds" doc:"pieces that were spoilt, as long as quoted"`
	Machine float64   `json:"machine_seconds" doc:"another machine than quoted, another sheet, heads left empty: predicted there less quoted"`
	Breaks  float64   `json:"breaks_seconds" doc:"thread breaks beyond the usual ones"`
	Speed   float64   `json:"speed_seconds" doc:"another set speed than the line's"`
	Loading float64   `json:"loading_seconds" doc:"the rest: loading, waiting beyond what was quoted, and what no other part explains"`
	Price   money.Dec `json:"price" doc:"without tax, of the pieces, with a set-up fee and less the discount; without fees for digitizing and delivery"`
	Cost    money.Dec `json:"quoted_cost"`
	Came    money.Dec `json:"sewn_cost" doc:"what the quote has for the machine that sewed it, and what the time beyond that costs"`
}

// Over is the machine time that was not quoted, in s.
func (r *AfterRow) Over() float64 { return r.Sewn - r.Quoted }

// Margin is what is left of the price, relative; 0 where there is none.
func (r *AfterRow) Margin() float64 { return margin(r.Price, r.Came) }

// QuotedMargin is what the quote would have left.
func (r *AfterRow) QuotedMargin() float64 { return margin(r.Price, r.Cost) }

// over is by how much more than quoted it cost, relative.
func (r *AfterRow) over() float64 {
	if !r.Cost.IsPositive() {
		return 0
	}
	return r.Came.InexactFloat64()/r.Cost.InexactFloat64() - 1
}

func margin(price, cost money.Dec) float64 {
	if !price.IsPositive() {
		return 0
	}
	return 1 - cost.InexactFloat64()/price.InexactFloat64()
}

func (r *AfterRow) add(x *AfterRow) {
	r.Pieces += x.Pieces
	r.Quoted, r.Sewn = r.Quoted+x.Quoted, r.Sewn+x.Sewn
	r.Spoilt, r.Machine, r.Breaks = r.Spoilt+x.Spoilt, r.Machine+x.Machine, r.Breaks+x.Breaks
	r.Speed, r.Loading = r.Speed+x.Speed, r.Loading+x.Loading
	r.Price, r.Cost, r.Came = r.Price.Add(x.Price), r.Cost.Add(x.Cost), r.Came.Add(x.Came)
}

// report is one report against its quote. Each part is a difference of two
// times that follow each other, so that they sum up to the whole.
func (a *AfterAnswer) report(r *book.Report, of *book.Quote, q *book.QuoteLine, hour func(id, name string) money.Dec) AfterRow {
	usual := r.Usual.Sum()
	x := AfterRow{Pieces: r.Good, Quoted: float64(r.Good) * q.Piece, Sewn: r.Seconds, Spoilt: float64(r.Spoilt) * q.Piece}
	waits := float64(r.Good+r.Spoilt) * q.Waiting()
	x.Machine = usual - (x.Quoted + x.Spoilt - waits)
	if r.Breaks >= 0 {
		x.Breaks = float64(r.Breaks)*r.Usual.Break - r.Usual.Breaks
	}
	if r.Usual.AtSpeed > 0 {
		x.Speed = r.Usual.AtSpeed - r.Usual.Sewing
	}
	x.Loading = r.Seconds - usual - x.Breaks - x.Speed - waits
	x.Price, x.Cost = of.Asked(q, r.Good), q.Cost.Mul(money.Measured(float64(r.Good)))
	x.Came = x.Cost
	c, ok := q.CostOn(r.MachineID, hour)
	switch {
	case !ok:
		a.Unpriced++
		return x
	case c.Reckoned:
		a.Reckoned++
	}
	x.Came = c.Took(r.Good, r.Seconds, c.Held)
	return x
}

// After answers how the jobs that are sewn or delivered went against their newest
// quotes: time, cost and margin, and why.
func After(ctx context.Context, from AfterFrom, q AfterQuestion) (*AfterAnswer, error) {
	q.By = cmp.Or(q.By, AfterBy[0])
	if !slices.Contains(AfterBy, q.By) {
		return nil, Errorf("jobs are summed up by order, design, customer or machine, not by %q", q.By).At("by")
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	machines, err := from.Machines(ctx)
	if err != nil {
		return nil, err
	}
	names, hours := map[string]string{}, sewingHours(w)
	for _, m := range machines {
		names[m.ID] = m.Name
	}
	hour := func(id, name string) money.Dec {
		for _, m := range machines {
			if id == "" && m.Name == name {
				id = m.ID
			}
		}
		return hours[id]
	}
	done, err := from.Done(ctx)
	if err != nil {
		return nil, err
	}
	reports, err := from.Reports(ctx)
	if err != nil {
		return nil, err
	}
	of := map[string][]*book.Report{}
	for i := range reports {
		of[reports[i].OrderID] = append(of[reports[i].OrderID], &reports[i])
	}
	a := &AfterAnswer{By: q.By, Currency: w.Money.Currency, Rows: []AfterRow{}, Verdict: words.Sentences{},
		Caveats: words.Sentences{}}
	at := map[string]int{}
	for _, o := range done {
		quotes, err := from.KeptQuotes(ctx, o.ID)
		if err != nil {
			return nil, err
		}
		quoted := map[int]*book.QuoteLine{}
		if len(quotes) > 0 {
			for i := range quotes[0].Lines {
				quoted[quotes[0].Lines[i].Line] = &quotes[0].Lines[i]
			}
		}
		for i := range o.Lines {
			if quoted[o.Lines[i].Line] == nil {
				a.Unquoted++
			}
		}
		for _, r := range of[o.ID] {
			line := quoted[r.Line]
			switch {
			case line == nil || r.Good+r.Spoilt == 0:
				continue
			case r.Seconds == 0 || r.Usual == nil:
				a.Untimed++
				continue
			}
			key, name := o.ID, ""
			switch q.By {
			case "order":
				name = words.Whole(o.Number).Raw() + " " + o.Customer
			case "design":
				key, name = line.DesignID, line.Design
			case "customer":
				key, name = o.Customer, o.Customer
			case "machine":
				key, name = r.MachineID, cmp.Or(names[r.MachineID], r.MachineID)
			}
			k, ok := at[key]
			if !ok {
				k = len(a.Rows)
				at[key] = k
				a.Rows = append(a.Rows, AfterRow{Name: name})
			}
			x := a.report(r, quotes[0], line, hour)
			a.Rows[k].add(&x)
			a.All.add(&x)
		}
	}
	slices.SortStableFunc(a.Rows, func(x, y AfterRow) int {
		return y.Came.Sub(y.Cost).Cmp(x.Came.Sub(x.Cost))
	})
	a.say()
	return a, nil
}
