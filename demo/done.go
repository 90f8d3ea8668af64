package demo

import (
	"encoding/json"
	"sync"

	_ "embed"
)

// Done is an invented order that the shop has finished, of one line.
type Done struct {
	Customer  string
	Design    string // file name in designs/
	Placement string
	Garment   string
	Quantity  int
	Cap       bool    // on a cap frame
	Came      int     // working days ago
	Due       int     // working days after it came
	Sewn      int     // working days after it came
	Machine   string  // by its name
	Spoilt    int     // pieces beside the good ones
	Breaks    int     // thread breaks
	Took      float64 // against the time that was to be expected
	Delivered bool    // else it is sewn and waits
}

//go:embed orders/done.json
var done []byte

// DoneOrders are the invented orders that the shop has finished, the oldest first.
var DoneOrders = sync.OnceValue(func() (all []Done) {
	if err := json.Unmarshal(done, &all); err != nil {
		panic(err) // it is part of the program
	}
	return all
})
