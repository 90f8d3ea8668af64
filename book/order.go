package book

import (
	"strconv"
	"time"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/words"
)

// Order is what a customer wants made. Its days are those of the workshop's
// time zone.
type Order struct {
	ID       string `json:"id"`
	Number   int    `json:"number"` // for people, counted up from 1001
	Customer string `json:"customer"`
	// CustomerAddress is where the customer's papers go, in lines; none: not said
	CustomerAddress []string   `json:"customer_address"`
	PurchaseOrder   string     `json:"purchase_order"` // the customer's own number for it
	Note            string     `json:"note"`
	State           OrderState `json:"state"`
	Due             words.Day  `json:"due"` // the day the customer wants it; empty: no day
	// Latest is the day after which it is of no use to the customer; empty: none
	Latest   words.Day `json:"latest"`
	Goods    words.Day `json:"goods"`    // the day the garments come; empty: they are here
	Promised words.Day `json:"promised"` // the day the customer was told; empty: none yet
	// priority: what a late hour costs against an ordinary order's 1; 0 where lateness does not matter
	Weight float64 `json:"weight"`
	// Together: all lines go to the customer in one delivery, when the last is made
	Together bool        `json:"together,omitempty"`
	Lines    []OrderLine `json:"lines"`
	Roughs   []RoughSaid `json:"roughs,omitempty"` // what it asks for and has no stitch file yet
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
	LinePieces
	Holds []Hold `json:"holds"` // where people have put it, or where it runs
	// Good and Spoilt pieces made so far, as the floor reported.
	Good   int `json:"good"`
	Spoilt int `json:"spoilt"`
	Again  int `json:"again"` // of Spoilt: their garment is unpicked and sewn again
	// Delivered pieces went to the customer before the order as a whole was delivered.
	Delivered int `json:"delivered"`
}

// LineGoods is what the goods ask of the machine.
type LineGoods struct {
	Speed    float64 `json:"speed"` // setting for this line, stitches/min; 0: the machine's
	CapFrame bool    `json:"cap_frame"`
	Metallic bool    `json:"metallic"`
	Heavy    float64 `json:"heavy"` // factor on the frame's acceleration, 0: the machine's own for Job
	// Job is the kinds of job, CapFrame and Metallic in it or not.
	Job machine.Jobs `json:"job,omitempty"`
}

// Floor is the same as package floor takes it.
func (g LineGoods) Floor() floor.Goods {
	return floor.Goods{Speed: g.Speed, CapFrame: g.CapFrame, Metallic: g.Metallic, Heavy: g.Heavy, Job: g.Job}
}

// Kinds are all the kinds of job that the goods are of.
func (g LineGoods) Kinds() machine.Jobs { return g.Floor().Kinds() }

// Left is how many pieces are still to be made.
func (l *OrderLine) Left() int { return max(0, l.Quantity-l.Good) }

// Rework is how many of the pieces left are to be made again because they were
// spoilt. The garments that came with the order are sewn first.
func (l *OrderLine) Rework() int { return min(l.Left(), l.Spoilt) }

// Garments is how many new garments the pieces to be made again need: those
// spoilt whose garment is not sewn again.
func (l *OrderLine) Garments() int { return min(l.Rework(), l.Spoilt-l.Again) }

// Waits is the day from which garments of the line are there to be sewn, as seen
// on a day before it; zero where some are there, or none is left to sew.
func (l *OrderLine) Waits(goods, today words.Day) words.Day {
	if all := l.GarmentBatches(goods, today); len(all) > 0 && all[0].From.After(today) {
		return all[0].From
	}
	return words.Day{}
}

// Hold puts pieces of a line on a machine whatever the plan would find better.
type Hold struct {
	MachineID string `json:"machine"`
	Quantity  int    `json:"quantity"` // pieces; 0: all that are left
	Running   bool   `json:"running"`  // they are on the machine now
	// At: not before, and then if it can be; zero: any time. Of what is on the machine, since when; zero: not known.
	At time.Time `json:"at"`
	// Colour is of the garments that are meant; empty: as they come in the table of sizes.
	Colour string `json:"garment_colour,omitempty"`
}

// Wanted is the day the plan works to: the promised one, else the due one.
func (o *Order) Wanted() words.Day {
	if !o.Promised.IsZero() {
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

// MostWeight is the highest priority of an order.
const MostWeight = 1000.0

// LineName names a line for people: "1003" for an order's only line, else
// "1003/2".
func LineName(o *Order, line int) string {
	return LineNamed(strconv.Itoa(o.Number), line, len(o.Lines) != 1)
}

// LineNamed is LineName where only the order's number, as text, is at hand, and
// whether it has several lines.
func LineNamed(order string, line int, several bool) string {
	if !several {
		return order
	}
	return order + "/" + strconv.Itoa(line)
}

// The frames that goods are held in.
const (
	FlatFrame = "flat frame"
	CapFrame  = "cap frame"
)

// Frame is the frame the line's goods need.
func (l *OrderLine) Frame() string {
	if l.Kinds()&machine.CapFrame != 0 {
		return CapFrame
	}
	return FlatFrame
}

// FrameName is a kind of frame in words.
func FrameName(frame string) words.Message {
	if frame == CapFrame {
		return words.Say("frame.cap")
	}
	return words.Say("frame.flat")
}
