package book

import (
	"fmt"
	"net/url"
	"time"

	"needlepace/clock"
	"needlepace/stitch"
	"needlepace/words"
)

// RunSheet is what the floor needs to sew one line on one machine.
type RunSheet struct {
	OrderID   string `json:"order"`
	Number    int    `json:"number"`
	Line      int    `json:"line"`
	Name      string `json:"name"`
	Customer  string `json:"customer"`
	ShopName  string `json:"shop"`
	Note      string `json:"note"`
	Placement string `json:"placement"`
	Garment   string `json:"garment"`
	// Colour and On are of the garments, where the line's threads differ by
	// it: these are sewn with the threads of this sheet.
	Colour string    `json:"garment_colour,omitempty"`
	On     []string  `json:"garment_colours,omitempty"`
	Sizes  []SizeRow `json:"sizes,omitempty"` // the garments of the sheet, in the order in which they are sewn
	// Names are the pieces of the sheet one by one, where they have names.
	Names []RunName `json:"names,omitempty"`
	// NamesAlone: they are sewn alone, without the line's design before them.
	NamesAlone bool      `json:"names_alone,omitempty"`
	Due        words.Day `json:"due"`
	Planned    time.Time `json:"planned"` // start by the plan; zero: not in it
	Done       time.Time `json:"done"`    // end by the plan
	// Since says that the plan is not of what is known now; empty: it is, or the line is not in it.
	Since words.Plain `json:"plan_since,omitzero"`

	Design    string  `json:"design"`
	DesignID  string  `json:"design_id"`
	File      string  `json:"file"`
	Label     string  `json:"label"` // inside the file, shown beside its name; may be empty
	Stitches  int     `json:"stitches"`
	WidthMM   float64 `json:"width_mm"`
	HeightMM  float64 `json:"height_mm"`
	Frame     string  `json:"frame"`
	Machine   string  `json:"machine"`
	MachineID string  `json:"machine_id"`
	Heads     int     `json:"heads"`

	Quantity int `json:"quantity"` // pieces to sew on this machine
	Runs     int `json:"runs"`
	LastRun  int `json:"last_run"` // heads used in the last run
	// Again is how many of the line's pieces left were spoilt and are made again, Garments how many new garments they need.
	Again    int `json:"again"`
	Garments int `json:"new_garments"`

	Blocks []RunBlock `json:"blocks"`

	// Speed is what to set: the knee, above which the design gains next to
	// nothing, or what the goods allow.
	Speed    int         `json:"speed"`
	SpeedWhy words.Plain `json:"speed_why"`
	// BestSpeed makes most good pieces, where breaks are known to grow with the speed;
	// 0: no effect is known. BestSay says what is known of it; empty: nobody asked.
	BestSpeed  float64     `json:"best_speed,omitempty"`
	BestSay    words.Plain `json:"best_speed_say,omitzero"`
	Rated      int         `json:"rated_speed"`
	RunSeconds float64     `json:"run_seconds"` // of a run at Speed
	Low        float64     `json:"run_seconds_low"`
	High       float64     `json:"run_seconds_high"`
	Parts      clock.Parts `json:"parts"`
	Cycle      float64     `json:"cycle_seconds"`  // a run with loading, expected breaks and bobbins
	Setup      float64     `json:"set_up_seconds"` // at most: as if no cone were on
	Total      float64     `json:"total_seconds"`  // set-up and all runs

	Colours    []RunColour   `json:"colours"`
	Bobbins    int           `json:"bobbins"`           // to have at hand
	BobbinRuns int           `json:"runs_per_bobbin"`   // full runs one bobbin lasts; 0: less than one
	Breaks     float64       `json:"breaks"`            // thread breaks to expect, all runs
	Rethreads  int           `json:"rethreads_per_run"` // by hand
	Stops      []words.Plain `json:"stops"`             // where the operator must act
	Cautions   []words.Plain `json:"cautions"`
	Page       string        `json:"page"` // where the run is recorded; empty: no page's address is known

	Stitched *stitch.Design `json:"-"` // for the drawing
}

// RunBlock is one colour block in its order.
type RunBlock struct {
	Block    int         `json:"block"`  // from 1
	Needle   int         `json:"needle"` // from 1
	Thread   string      `json:"thread"`
	Cone     words.Plain `json:"cone"`   // "put on", "stays" or "re-thread by hand"
	Colour   string      `json:"colour"` // #rrggbb, empty: not known
	Stitches int         `json:"stitches"`
	Starts   float64     `json:"starts_seconds"` // from the start button
	Seconds  float64     `json:"seconds"`
}

// RunName is a piece with a name, in the order in which they are sewn.
type RunName struct {
	NameRow
	Piece   int     `json:"piece"` // of the sheet, from 1
	Run     int     `json:"run"`   // in which it is sewn, from 1
	Head    int     `json:"head"`  // that sews it, from 1
	File    string  `json:"file"`
	Seconds float64 `json:"seconds"` // its lettering takes
}

// RunColour is the thread of one colour for all pieces.
type RunColour struct {
	Thread string  `json:"thread"`
	Needle int     `json:"needle"`
	Metres float64 `json:"metres"` // all pieces
	Cones  int     `json:"cones"`  // to have at hand, those on the heads included
}

// RecordPath is where the page records pieces of a line on a machine, by the
// machine's ID: it stands, behind the page's address, in the code on the run
// sheet. colour is of the garments, where the line's threads differ by it.
func RecordPath(number, line int, machine, colour string) string {
	path := fmt.Sprintf("/orders/%d/record?line=%d&machine=%s", number, line, url.QueryEscape(machine))
	if colour != "" {
		path += "&colour=" + url.QueryEscape(colour)
	}
	return path
}

// Cautions are what is printed on a run sheet unless the shop gives its own:
// the usual cautions at a machine with a moving needle and frame.
func Cautions() []words.Plain {
	return []words.Plain{
		words.Plain(words.Say("caution.moving")),
		words.Plain(words.Say("caution.stop-first")),
		words.Plain(words.Say("caution.trace")),
		words.Plain(words.Say("caution.speed")),
		words.Plain(words.Say("caution.manual")),
	}
}
