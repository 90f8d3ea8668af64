package book

import (
	"time"

	"needlepace/words"
)

// Report is what the floor says about pieces made on a machine.
type Report struct {
	ID        string    `json:"id"`
	OrderID   string    `json:"order"`
	Line      int       `json:"line"`
	MachineID string    `json:"machine"`
	DesignID  string    `json:"design"`
	Colour    string    `json:"garment_colour,omitempty"` // of the garments; empty: not said
	Day       words.Day `json:"day"`
	Good      int       `json:"good"`   // pieces to standard
	Spoilt    int       `json:"spoilt"` // pieces not
	Breaks    int       `json:"breaks"` // thread breaks; −1: not counted
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
}
