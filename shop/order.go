package shop

import (
	"strconv"
	"strings"
	"time"

	"needlepace/floor"
)

// OrderState is how far an order has come.
type OrderState string

// The states of an order, in the order they are passed through.
const (
	Requested OrderState = "requested" // somebody asked for it
	Quoted    OrderState = "quoted"    // a price and a date were given
	Agreed    OrderState = "agreed"    // it is to be made: it is in the plan
	Sewing    OrderState = "sewing"    // the floor has begun it
	Sewn      OrderState = "sewn"      // all its pieces are made
	Delivered OrderState = "delivered" // the customer has it
	Withdrawn OrderState = "withdrawn" // it will not be made (any more)
)

// OrderStates are all states, in their order.
var OrderStates = []OrderState{Requested, Quoted, Agreed, Sewing, Sewn, Delivered, Withdrawn}

// next says to which states a person may take an order from each state. Made
// pieces also take it from Agreed to Sewing and on to Sewn (Record).
var next = map[OrderState][]OrderState{
	Requested: {Quoted, Agreed, Withdrawn},
	Quoted:    {Requested, Agreed, Withdrawn},
	Agreed:    {Requested, Sewing, Withdrawn},
	Sewing:    {Agreed, Sewn, Withdrawn},
	Sewn:      {Sewing, Delivered, Withdrawn},
	Delivered: {Sewn},
	Withdrawn: {Requested},
}

// Planned reports whether orders of this state are in the plan.
func (s OrderState) Planned() bool { return s == Agreed || s == Sewing }

// Open reports whether something is still to be done about such an order.
func (s OrderState) Open() bool { return s != Delivered && s != Withdrawn }

// Order is what a customer wants made. Days are ISO 8601 days (2026-03-20) in
// the workshop's time zone.
type Order struct {
	ID       string      `json:"id"`
	Number   int         `json:"number"` // for people, counted up from 1001
	Customer string      `json:"customer"`
	Note     string      `json:"note"`
	State    OrderState  `json:"state"`
	Due      string      `json:"due"`      // the day the customer wants it; empty: no day
	Goods    string      `json:"goods"`    // the day the garments come; empty: they are here
	Promised string      `json:"promised"` // the day the customer was told; empty: none yet
	Weight   float64     `json:"weight"`   // priority: what a late hour costs against an ordinary order's 1; 0 where lateness does not matter
	Lines    []OrderLine `json:"lines"`
	Made     time.Time   `json:"made"`
	Changed  time.Time   `json:"changed"`
	Version  int         `json:"version"` // rises with every change
}

// OrderLine is a number of pieces with one design at one place.
type OrderLine struct {
	Line      int      `json:"line"` // from 1; stays the line's own when others are taken out
	DesignID  string   `json:"design"`
	Placement string   `json:"placement"` // e.g. "left chest"
	Garment   string   `json:"garment"`   // e.g. "polo, navy"
	Quantity  int      `json:"quantity"`  // pieces
	Threads   []string `json:"threads"`   // the colour of each colour block; empty: the design's own
	Digitize  bool     `json:"digitize"`  // the digitizing fee is charged
	// MostMachines is on how many machines the line may be split; 0: as the
	// plan finds best.
	MostMachines int `json:"most_machines"`
	LineGoods
	Holds []Hold `json:"holds"` // where people have put it, or where it runs
	// Good and Spoilt pieces made so far, as the floor reported.
	Good   int `json:"good"`
	Spoilt int `json:"spoilt"`
}

// LineGoods is what the goods ask of the machine.
type LineGoods struct {
	Speed    float64 `json:"speed"` // setting for this line, stitches/min; 0: the machine's
	CapFrame bool    `json:"cap_frame"`
	Metallic bool    `json:"metallic"`
	Heavy    float64 `json:"heavy"` // factor on the frame's acceleration, 0: 1
}

func (g LineGoods) floor() floor.Goods {
	return floor.Goods{Speed: g.Speed, CapFrame: g.CapFrame, Metallic: g.Metallic, Heavy: g.Heavy}
}

// Left is how many pieces are still to be made.
func (l *OrderLine) Left() int { return max(0, l.Quantity-l.Good) }

// Hold puts pieces of a line on a machine whatever the plan would find better.
type Hold struct {
	MachineID string    `json:"machine"`
	Quantity  int       `json:"quantity"` // pieces; 0: all that are left
	Running   bool      `json:"running"`  // they are on the machine now
	At        time.Time `json:"at"`       // not before, and then if it can be; zero: any time
}

// Wanted is the day the plan works to: the promised one, else the due one.
func (o *Order) Wanted() string {
	if o.Promised != "" {
		return o.Promised
	}
	return o.Due
}

// Line finds a line of the order by its own number.
func (o *Order) Line(n int) *OrderLine {
	for i := range o.Lines {
		if o.Lines[i].Line == n {
			return &o.Lines[i]
		}
	}
	return nil
}

// Pieces are the pieces of all lines.
func (o *Order) Pieces() (n int) {
	for i := range o.Lines {
		n += o.Lines[i].Quantity
	}
	return n
}

// Left are the pieces still to be made.
func (o *Order) Left() (n int) {
	for i := range o.Lines {
		n += o.Lines[i].Left()
	}
	return n
}

// Change is one entry of an order's history. Nothing in it is ever changed.
type Change struct {
	OrderID string    `json:"order"`
	Version int       `json:"version"` // of the order after it
	At      time.Time `json:"at"`
	By      string    `json:"by"`   // account name, empty where there are no accounts
	What    string    `json:"what"` // a sentence, e.g. "due 2026-03-20 (was 2026-03-18)"
}

// OrderQuery asks for a page of the list of orders.
type OrderQuery struct {
	Search  string       // words that must all be in number, customer, note or garments
	States  []OrderState // none: all
	Sort    string       // "due" (soonest first), "number" (newest first), "customer"; "" is due
	Reverse bool
	Offset  int
	Limit   int // 1…5000
}

// Report is what the floor says about pieces made on a machine.
type Report struct {
	ID        string    `json:"id"`
	OrderID   string    `json:"order"`
	Line      int       `json:"line"`
	MachineID string    `json:"machine"`
	DesignID  string    `json:"design"`
	Day       string    `json:"day"`               // ISO 8601 day
	Good      int       `json:"good"`              // pieces to standard
	Spoilt    int       `json:"spoilt"`            // pieces not
	Breaks    int       `json:"breaks"`            // thread breaks; −1: not counted
	Seconds   float64   `json:"seconds"`           // the pieces held the machine, from the first start to the last unloading, without pauses and the set-up; 0: not timed
	Predicted float64   `json:"predicted_seconds"` // what they should have held it, with the breaks that were counted
	Sheet     string    `json:"sheet"`             // digest of the sheet that predicted it
	Stitches  float64   `json:"head_stitches"`     // stitches sewn, over all heads
	RunTimed  float64   `json:"run_seconds"`       // one run by the watch, start button to standing; 0: none. It feeds learn
	SetSpeed  float64   `json:"set_speed"`         // stitches/min
	Note      string    `json:"note"`
	By        string    `json:"by"`
	Added     time.Time `json:"added"`
}

// Day is a day as orders keep it.
func Day(t time.Time) string { return t.Format(time.DateOnly) }

// DayTime is the beginning of a kept day in a time zone.
func DayTime(day string, loc *time.Location) (time.Time, error) {
	t, err := time.ParseInLocation(time.DateOnly, day, loc)
	if err != nil {
		return t, Errorf(Invalid, "%q is not a day; write it as 2026-03-20", day)
	}
	return t, nil
}

// lineName names a line for people: "1003" for an order's only line, else
// "1003/2".
func lineName(o *Order, line int) string {
	if len(o.Lines) == 1 {
		return strconv.Itoa(o.Number)
	}
	return strconv.Itoa(o.Number) + "/" + strconv.Itoa(line)
}

func cleanThreads(threads []string) []string {
	out := []string{}
	for _, t := range threads {
		out = append(out, strings.TrimSpace(t))
	}
	return out
}
