package book

import (
	"time"

	"needlepace/words"
)

// Report is what the floor says about pieces made on a machine.
type Report struct {
	ID        string    `json:"id"`
	OrderID   string    `json:"order"`
	Number    int       `json:"number"` // among the order's reports, from 1, for people
	Line      int       `json:"line"`
	MachineID string    `json:"machine"`
	DesignID  string    `json:"design"`
	Colour    string    `json:"garment_colour,omitempty"` // of the garments; empty: not said
	Day       words.Day `json:"day"`
	Good      int       `json:"good"`   // pieces to standard
	Spoilt    int       `json:"spoilt"` // pieces not
	// Again are those of Spoilt whose garment is unpicked and sewn again; the others need a new garment
	Again  int `json:"again"`
	Breaks int `json:"breaks"` // thread breaks; −1: not counted
	// the pieces held the machine, from the first start to the last unloading, without pauses and the set-up; 0:
	// not timed
	Seconds   float64 `json:"seconds"`
	Predicted float64 `json:"predicted_seconds"` // what they should have held it, with the breaks that were counted
	Sheet     string  `json:"sheet"`             // digest of what the sheet that predicted it has for the clock
	Stitches  float64 `json:"head_stitches"`     // stitches sewn, over all heads
	// one run by the watch, start button to standing; 0: none. It feeds learn
	RunTimed float64   `json:"run_seconds"`
	SetSpeed float64   `json:"set_speed"` // stitches/min
	Note     string    `json:"note"`
	By       string    `json:"by"`
	Added    time.Time `json:"added"`
	// Usual is what the pieces should have held the machine with the breaks that are usual, by part; nil: kept by an
	// earlier version, which did not tell the parts.
	Usual *Held `json:"usual,omitempty"`
	// Ended are what was on machines of the line, as it stood before, and went off them with the report.
	Ended     []Hold     `json:"-"`
	Corrects  string     `json:"corrects,omitempty"`   // ID of the report in whose place it stands
	TakenBack *TakenBack `json:"taken_back,omitempty"` // nil: it stands
}

// Held are the seconds that pieces should hold a machine, by part.
type Held struct {
	Sewing  float64 `json:"sewing"`  // runs, start button to standing
	Breaks  float64 `json:"breaks"`  // the thread breaks that are usual
	Loading float64 `json:"loading"` // all else: changing garments, bobbins, stops
	Break   float64 `json:"break"`   // one thread break
	// AtSpeed is Sewing at the speed that the machine was set to; 0: it was the line's.
	AtSpeed float64 `json:"at_speed,omitempty"`
}

// Sum is the whole in s.
func (h *Held) Sum() float64 { return h.Sewing + h.Breaks + h.Loading }

// TakenBack says that something kept no longer counts. What it said stays.
type TakenBack struct {
	At  time.Time `json:"at"`
	By  string    `json:"by"`
	Why string    `json:"why"`
}

// Standing are the reports that were not taken back, in their order.
func Standing(all []Report) []Report {
	out := make([]Report, 0, len(all))
	for i := range all {
		if all[i].TakenBack == nil {
			out = append(out, all[i])
		}
	}
	return out
}

// HandOver is a part of a line that the customer got.
type HandOver struct {
	ID        string     `json:"id"`
	OrderID   string     `json:"order"`
	Number    int        `json:"number"` // among the order's deliveries, from 1
	Line      int        `json:"line"`
	Day       words.Day  `json:"day"`
	Pieces    int        `json:"pieces"`
	Note      string     `json:"note"`
	By        string     `json:"by"`
	Added     time.Time  `json:"added"`
	TakenBack *TakenBack `json:"taken_back,omitempty"` // nil: it stands
}
