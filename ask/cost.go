package ask

import (
	"context"
	"slices"

	"needlepace/floor"
	"needlepace/money"
	"needlepace/thread"
	"needlepace/words"
)

// CostQuestion asks what a piece of each design costs on a shop's machines.
type CostQuestion struct {
	Name string // of the setup, in errors: its file, or "the shift"
	TOML []byte // the setup, a SHOP.toml with [money]
	Simulation
	Designs    []*Design
	Machines   []string    // of the setup, by name; none: all
	Quantities []int       // steps, rising; none: the setup's
	Goods      floor.Goods // what the designs are sewn on; its speed 0: each machine's
}

// CostAnswer is what a piece of one design costs on one machine: the written
// contract of `cost --json` (docs/json.md). Money is decimal text.
type CostAnswer struct {
	Design      string          `json:"design"`
	File        string          `json:"file"`
	Machine     string          `json:"machine"`
	Heads       int             `json:"heads"`
	Currency    string          `json:"currency"`
	Run         float64         `json:"run_seconds"`
	Low         float64         `json:"run_seconds_low"`
	High        float64         `json:"run_seconds_high"`
	Piece       float64         `json:"machine_seconds_per_piece"` // in full runs
	Stitches    int             `json:"stitches"`
	Top         float64         `json:"top_thread_m"`
	Bobbin      float64         `json:"bobbin_thread_m"`
	Spoilt      float64         `json:"spoilt"`
	Steps       []CostStep      `json:"steps"`
	Range       [2]string       `json:"cost_range"` // of the last step, at the ends of the run time's interval
	Thread      ThreadNeed      `json:"thread"`     // for the last step's pieces
	Missing     []string        `json:"missing"`    // keys of prices that count as 0 because they are missing
	Placeholder bool            `json:"placeholder"`
	Verdict     words.Sentences `json:"verdict"`
	Caveats     words.Sentences `json:"caveats"`
}

// CostStep is one quantity of a price list.
type CostStep struct {
	Quantity    int        `json:"quantity"`
	Cost        string     `json:"cost"`
	PerThousand string     `json:"cost_per_1000_stitches"`
	PerHour     string     `json:"cost_per_machine_hour"`
	Price       string     `json:"price"`
	PriceTax    string     `json:"price_with_tax"`
	Hours       string     `json:"machine_hours"`
	Held        float64    `json:"machine_seconds_per_piece"` // in such an order, set-up apart
	Idle        int        `json:"idle_heads"`                // heads that stay empty in the last run
	Lines       []CostLine `json:"lines"`
}

// CostLine is one line of a cost, a piece.
type CostLine struct {
	Name   string `json:"name"`
	Amount string `json:"amount"`
	Basis  string `json:"basis"`
}

// ThreadNeed is the thread for an order.
type ThreadNeed struct {
	Pieces    int          `json:"pieces"`
	Top       float64      `json:"top_m"`
	Bobbin    float64      `json:"bobbin_m"`
	Bobbins   int          `json:"bobbins"`
	PerBobbin float64      `json:"pieces_per_bobbin"`
	Colours   []ColourNeed `json:"colours"`
}

// ColourNeed is the thread of one colour for an order.
type ColourNeed struct {
	Colour string  `json:"colour"`
	Blocks []int   `json:"blocks"` // from 1
	Top    float64 `json:"top_m"`
	Cones  int     `json:"cones"` // to have at hand: one a head at least
	Used   float64 `json:"cones_used"`
}

// Cost lets each machine sew each design all shift among the setup's others,
// and adds up what a piece then costs, line by line. What cannot be costed is
// told to failed, the rest is. An *Error says what is wrong with the question.
func Cost(ctx context.Context, q CostQuestion, from floor.Sources, failed func(error)) ([]*CostAnswer, error) {
	if err := q.Simulation.fill(); err != nil {
		return nil, err
	}
	s, err := readShift(q.Name, q.TOML, true, from)
	if err != nil {
		return nil, err
	}
	rates := &s.file.Money
	if len(q.Quantities) == 0 {
		q.Quantities = rates.Quantities
	}
	for i, n := range q.Quantities {
		if n < 1 || n > floor.MaxQuantity || i > 0 && n <= q.Quantities[i-1] {
			return nil, Errorf("the quantities are %v; give rising numbers of pieces, e.g. 1, 12, 48", q.Quantities)
		}
	}
	machines, err := s.named(q.Machines)
	if err != nil {
		return nil, err
	}
	var out []*CostAnswer
	for i, d := range q.Designs {
		for j, m := range machines {
			q.step((float64(i)+float64(j)/float64(len(machines)))/float64(len(q.Designs)),
				words.Say("cost.costing"))
			k, err := money.OnFloor(ctx, s.Resolved, rates, d.Design, d.File, m, s.file.Machine[m].Speed, q.Goods,
				q.Quantities,
				floor.Options{Seed: q.Seed, Level: q.Level})
			if err != nil {
				if ctx.Err() != nil {
					return out, stopped(ctx)
				}
				failed(Errorf("%s on %s: %w", d.File, s.Shop.Machines[m].Name, floor.Locate(s.toml, err)))
				continue
			}
			a := costAnswer(d, k, rates.Currency)
			a.say(rates, q.Level)
			out = append(out, a)
		}
	}
	return out, nil
}

// named are the indices of the machines with these names; all for none.
func (s *shiftSetup) named(want []string) ([]int, error) {
	var all []string
	var out []int
	for i, m := range s.Shop.Machines {
		all = append(all, m.Name)
		if len(want) == 0 {
			out = append(out, i)
		}
	}
	for _, n := range want {
		i := slices.Index(all, n)
		if i < 0 {
			var names words.List
			for _, a := range all {
				names = append(names, words.Name(a))
			}
			return nil, Errorf("the shop has no machine %q; it has %s", n, names.Text(nil))
		}
		out = append(out, i)
	}
	return out, nil
}

func costAnswer(d *Design, q *money.Quote, currency string) *CostAnswer {
	a := &CostAnswer{Design: d.Title(), File: d.File, Machine: q.Machine, Heads: q.Heads, Currency: currency,
		Run: q.Clock.Seconds,
		Low: q.How.Low, High: q.How.High, Piece: q.Made.Occupied(), Stitches: q.Clock.Stitches, Top: q.Made.Top,
		Bobbin: q.Made.Bobbin,
		Spoilt: q.Made.Spoilt, Range: [2]string{q.Low.StringFixed(4),
			q.High.StringFixed(4)}, Thread: threadNeed(&q.Thread),
		Missing: append([]string{}, q.Missing...), Placeholder: q.Placeholder}
	places := int32(words.Places(currency))
	for _, s := range q.Steps {
		at := CostStep{Quantity: s.Quantity, Cost: s.Total.StringFixed(4), PerThousand: s.PerThousand.StringFixed(4),
			PerHour: s.PerHour.StringFixed(4), Price: s.Price.StringFixed(places),
			PriceTax: s.PriceTax.StringFixed(places),
			Hours:    s.Hours.StringFixed(4), Held: 3600 * s.Held.InexactFloat64(), Idle: s.Idle}
		for _, l := range s.Lines {
			at.Lines = append(at.Lines, CostLine{l.Name, l.Amount.StringFixed(6), l.Basis})
		}
		a.Steps = append(a.Steps, at)
	}
	a.Verdict = words.Sentences{a.holds(&q.Made)}
	return a
}

func threadNeed(n *thread.Need) ThreadNeed {
	out := ThreadNeed{n.Pieces, n.Top, n.Bobbin, n.Bobbins, n.PerBobbin, []ColourNeed{}}
	for _, c := range n.Colours {
		row := ColourNeed{Colour: c.Name, Top: c.Order, Cones: c.Cones, Used: c.Used}
		for _, b := range c.Blocks {
			row.Blocks = append(row.Blocks, b+1)
		}
		out.Colours = append(out.Colours, row)
	}
	return out
}
