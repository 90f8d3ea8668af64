package book

import (
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/money"
	"needlepace/words"
)

// Quote is what an order would cost and when it could be had.
type Quote struct {
	ID       string    `json:"id"`
	OrderID  string    `json:"order"`
	Number   int       `json:"number"` // the order's
	Serial   string    `json:"serial"` // "1003-2" for an order's second quote
	Customer string    `json:"customer"`
	Made     time.Time `json:"made"`
	By       string    `json:"by"`
	Day      words.Day `json:"day"`   // of the quote
	Valid    words.Day `json:"valid"` // last day it holds
	ShopName string    `json:"shop"`
	Address  []string  `json:"address"`
	Terms    []string  `json:"terms"`

	QuoteTerms

	Currency string      `json:"currency"`
	Margin   string      `json:"margin_percent"` // wanted: share of the price that is not cost
	Lines    []QuoteLine `json:"lines"`
	Fees     []QuoteFee  `json:"fees"`
	Net      money.Dec   `json:"net"`
	TaxRate  string      `json:"tax_percent"`
	Tax      money.Dec   `json:"tax"`
	Gross    money.Dec   `json:"gross"`
	Cost     money.Dec   `json:"cost"` // of all of it to the shop; not for the customer

	Chance   float64   `json:"chance"`   // of Promise, 0…1; 0: not known, it hangs on a partner alone
	Earliest words.Day `json:"earliest"` // day, if all goes as planned
	// day met with at least Chance: the wanted one where that can be, else the earliest that can
	Promise words.Day `json:"promise"`
	// day after which it is of no use to the customer; empty: none
	Latest words.Day `json:"latest"`
	// the first day met with at least Chance, where that is after Latest and so is not
	// promised: Promise is empty then
	TooLate words.Day `json:"too_late"`
	Due     words.Day `json:"due"`     // the day the customer wants; empty: none
	OnTime  float64   `json:"on_time"` // chance that it is met; −1: no day
	Others  []string  `json:"others"`  // orders that it would make late, or later
	Hours   float64   `json:"machine_hours"`
	Notes   []string  `json:"notes"`

	// Missing names the prices that count as zero for want of a figure.
	Missing     []string `json:"missing_prices"`
	Placeholder bool     `json:"placeholder"` // the rates are an example's, not the shop's own
}

// Places is how many decimals the amounts of the quote have that the customer
// sees: those of its currency, or more where an older version kept it with more.
func (q *Quote) Places() int {
	n := words.Places(q.Currency)
	see := func(all ...money.Dec) {
		for _, d := range all {
			for n < mostPlaces && !d.Equal(d.Truncate(int32(n))) {
				n++
			}
		}
	}
	see(q.Net, q.Tax, q.Gross, q.Discount, q.Delivery, q.Deposit)
	for i := range q.Lines {
		l := &q.Lines[i]
		see(l.Price, l.Sum)
		for _, s := range l.Steps {
			see(s.Price, s.SetupFee)
		}
	}
	for _, f := range q.Fees {
		see(f.Amount)
	}
	return n
}

// mostPlaces is how many decimals a quote is written with at most.
const mostPlaces = 6

// Cash is an amount of the quote, with the decimals that all of its amounts have.
func (q *Quote) Cash(d money.Dec) words.Money {
	return words.Money{Amount: d, Code: q.Currency, Places: q.Places()}
}

// QuoteLine is one line's price.
type QuoteLine struct {
	Line      int      `json:"line"`
	Design    string   `json:"design"`
	File      string   `json:"file"`  // the design's
	Label     string   `json:"label"` // inside the file, shown beside its name; may be empty
	DesignID  string   `json:"design_id"`
	Placement string   `json:"placement"`
	Garment   string   `json:"garment"`
	Quantity  int      `json:"quantity"`
	Stitches  int      `json:"stitches"`
	Colours   []string `json:"colours"`       // distinct
	Blocks    []string `json:"blocks"`        // thread of each colour block
	BlockRGB  []string `json:"block_colours"` // #rrggbb, empty: not known
	WidthMM   float64  `json:"width_mm"`
	HeightMM  float64  `json:"height_mm"`
	// on which it is priced: that asked for, or the shop's standard; the names of all
	// where it is a mix
	Machine string  `json:"machine"`
	Heads   int     `json:"heads"`                     // of a mix: of the machine with the largest part
	Run     float64 `json:"run_seconds"`               // of a mix: weighed by the parts
	Piece   float64 `json:"machine_seconds_per_piece"` // loading, breaks and waiting in it; of a mix: weighed
	// machines that the price stands on, the largest part first; none: a quote of an earlier version
	Mix   []QuoteShare `json:"mix"`
	Price money.Dec    `json:"price"` // a piece, without tax
	Sum   money.Dec    `json:"sum"`
	Cost  money.Dec    `json:"cost"` // a piece, to the shop
	Steps []QuoteStep  `json:"steps"`
	// Costs are what it costs on each machine that can sew it and has prices, in or out of
	// the mix; none: a partner makes it, or an earlier version kept the quote.
	Costs []QuoteCost `json:"costs,omitempty"`
	// Partner makes it, in so many days; empty: the shop does. Not for the customer.
	Partner     string `json:"partner,omitempty"`
	PartnerDays int    `json:"partner_days,omitempty"`
	// Goods is what the order's line was (OrderLine.Goods); empty: a quote of an earlier version.
	Goods string `json:"goods,omitempty"`
	// Names are of a line whose pieces have names; nil: they have none.
	Names *QuoteNames `json:"names,omitempty"`
}

// Asked is what the quote asks for so many of a line's pieces, without tax: their
// price, with their part of the set-up where that is a fee of its own, less the discount.
// Fees for digitizing and delivery are in it as little as what these cost is in Cost.
func (q *Quote) Asked(l *QuoteLine, pieces int) money.Dec {
	if l.Quantity == 0 {
		return money.Dec{}
	}
	sum, before := l.Sum, q.Net.Sub(q.Delivery).Add(q.Discount)
	for _, s := range l.Steps {
		if s.Quantity == l.Quantity {
			sum = sum.Add(s.SetupFee)
		}
	}
	sum, of := sum.Mul(decimal.NewFromInt(int64(pieces))), decimal.NewFromInt(int64(l.Quantity))
	if q.Discount.IsPositive() && before.IsPositive() {
		sum, of = sum.Mul(before.Sub(q.Discount)), of.Mul(before)
	}
	return sum.Div(of)
}

// QuoteNames is what the names of a line take on the machine with the largest part.
type QuoteNames struct {
	Names        int     `json:"names"`
	Files        int     `json:"files"` // different stitch files of them
	Alone        bool    `json:"alone"` // sewn without the line's design
	Mean         float64 `json:"mean_seconds"`
	Short        string  `json:"shortest"` // the name that takes least
	ShortSeconds float64 `json:"shortest_seconds"`
	Long         string  `json:"longest"`
	LongSeconds  float64 `json:"longest_seconds"`
}

// QuoteShare is one machine of those that a price stands on.
type QuoteShare struct {
	MachineID string    `json:"machine"`
	Machine   string    `json:"machine_name"`
	Part      money.Dec `json:"part"` // of the pieces, 0 to 1
	Heads     int       `json:"heads"`
	Run       float64   `json:"run_seconds"`
	Piece     float64   `json:"machine_seconds_per_piece"`
}

// QuoteCost is what the ordered quantity costs where one machine sews all of it: the
// one answer that a quote on that machine, a plan and a job that is done are held against.
type QuoteCost struct {
	MachineID string    `json:"machine"`
	Cost      money.Dec `json:"cost"`    // a piece, to the shop
	Held      float64   `json:"seconds"` // a piece holds the machine, empty heads of the last run in it, set-up apart
	Planned   float64   `json:"planned"` // s a piece that a plan reckons there, without waiting for operators
	Hour      money.Dec `json:"hour"`    // to the shop, of an hour more or less than that
	Reckoned  bool      `json:"-"`       // the quote does not say it: it is reckoned by what machines cost now
}

// Took is what so many pieces cost where they took so many seconds, against the usual.
func (c *QuoteCost) Took(pieces int, seconds, usual float64) money.Dec {
	n := float64(pieces)
	return c.Cost.Mul(money.Measured(n)).Add(c.Hour.Mul(money.Measured((seconds - usual*n) / 3600)))
}

// CostOn is what the line costs on a machine, by its ID. A quote that does not say so, of an
// earlier version or older than the machine, has the machine's hours in place of the quoted
// ones, by what an hour costs on each (0: no prices; then false).
func (l *QuoteLine) CostOn(id string, hour func(id, name string) money.Dec) (QuoteCost, bool) {
	for _, c := range l.Costs {
		if c.MachineID == id {
			return c, true
		}
	}
	c := QuoteCost{MachineID: id, Cost: l.Cost, Hour: hour(id, ""), Reckoned: true}
	ok := c.Hour.IsPositive()
	for _, m := range l.On() {
		h := hour(m.MachineID, m.Machine)
		ok = ok && h.IsPositive()
		c.Cost = c.Cost.Sub(h.Mul(m.Part).Mul(money.Measured(m.Piece / 3600)))
	}
	return c, ok
}

// Waiting is how long of Piece a piece waits for operators, in s: of each machine of the price what a piece holds it
// beyond what a plan reckons there. 0 where the quote does not say so, as those of earlier versions.
func (l *QuoteLine) Waiting() (s float64) {
	for _, m := range l.On() {
		for _, c := range l.Costs {
			if c.Planned > 0 && (c.MachineID == m.MachineID || m.MachineID == "" && len(l.Costs) == 1) {
				s += m.Part.InexactFloat64() * (m.Piece - c.Planned)
			}
		}
	}
	return s
}

// On are the machines that the line's price stands on, none where a partner makes it; of a quote that an earlier
// version kept, its one.
func (l *QuoteLine) On() []QuoteShare {
	if l.Partner != "" {
		return nil
	}
	if len(l.Mix) > 0 {
		return l.Mix
	}
	return []QuoteShare{{Machine: l.Machine, Part: decimal.NewFromInt(1), Heads: l.Heads, Run: l.Run, Piece: l.Piece}}
}

// QuoteStep is the price in another quantity.
type QuoteStep struct {
	Quantity int       `json:"quantity"`
	Price    money.Dec `json:"price"` // a piece, without tax
	Cost     money.Dec `json:"cost"`
	Idle     int       `json:"idle_heads"` // heads that stay empty in the last run; of a mix: 0
	// the smaller quantity whose price is kept, where more pieces would cost more each; 0: its own
	PriceOf int `json:"price_of"`
	// its price is its cost: that of fewer pieces would be below it
	AtCost   bool      `json:"at_cost"`
	SetupFee money.Dec `json:"set_up_fee"` // zero where set-up is within the price
	// what the quote would come to in this quantity, as its own Net and Gross: fees,
	// discount and delivery in it, other lines as they are; zero: a quote of an earlier version
	// of several lines
	Net   money.Dec `json:"net"`
	Gross money.Dec `json:"gross"`
}

// QuoteTerms are what was agreed beside the prices.
type QuoteTerms struct {
	PurchaseOrder   string    `json:"purchase_order"`   // the customer's number for it
	CustomerAddress []string  `json:"customer_address"` // in lines
	DiscountPercent string    `json:"discount_percent"` // of lines and fees
	Discount        money.Dec `json:"discount"`         // taken off, without tax; zero: none
	Delivery        money.Dec `json:"delivery"`         // charged for it, without tax; zero: nothing
	DepositPercent  string    `json:"deposit_percent"`  // of Gross
	Deposit         money.Dec `json:"deposit"`          // of Gross, paid before work begins; zero: none
}

// The kinds of fee that a quote asks for once.
const (
	SetupFee      = "set-up"
	DigitizingFee = "digitizing"
)

// QuoteFee is asked for once.
type QuoteFee struct {
	Name   string    `json:"name"` // in English, as earlier versions kept it
	Kind   string    `json:"kind"` // SetupFee or DigitizingFee
	Design string    `json:"design"`
	Line   int       `json:"line,omitempty" doc:"of a set-up, whose; 0: of all lines of the design, or kept by an earlier version"`
	Amount money.Dec `json:"amount"`
}

// FeeOf is a fee of a kind for a design.
func FeeOf(kind, design string, amount money.Dec) QuoteFee {
	return QuoteFee{Name: kind + ": " + design, Kind: kind, Design: design, Amount: amount}
}

// Of is what the fee is for; of quotes that earlier versions kept, by its name.
// An empty kind is a fee that no version of the program knew.
func (f QuoteFee) Of() (kind, design string) {
	if f.Kind != "" {
		return f.Kind, f.Design
	}
	for _, kind := range []string{SetupFee, DigitizingFee} {
		if design, ok := strings.CutPrefix(f.Name, kind+": "); ok {
			return kind, design
		}
	}
	return "", f.Name
}
