package shop

import (
	"context"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/paper"
	"needlepace/stitch"
)

// RunSheet is what the floor needs to sew one line on one machine.
type RunSheet struct {
	OrderID   string    `json:"order"`
	Number    int       `json:"number"`
	Line      int       `json:"line"`
	Name      string    `json:"name"`
	Customer  string    `json:"customer"`
	ShopName  string    `json:"shop"`
	Note      string    `json:"note"`
	Placement string    `json:"placement"`
	Garment   string    `json:"garment"`
	Due       string    `json:"due"`
	Planned   time.Time `json:"planned"` // start by the plan; zero: not in it
	Done      time.Time `json:"done"`    // end by the plan

	Design    string  `json:"design"`
	DesignID  string  `json:"design_id"`
	File      string  `json:"file"`
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

	Blocks []RunBlock `json:"blocks"`

	// Speed is what to set: the knee, above which the design gains next to
	// nothing, or what the goods allow.
	Speed      int         `json:"speed"`
	SpeedWhy   string      `json:"speed_why"`
	Rated      int         `json:"rated_speed"`
	RunSeconds float64     `json:"run_seconds"` // of a run at Speed
	Low        float64     `json:"run_seconds_low"`
	High       float64     `json:"run_seconds_high"`
	Parts      clock.Parts `json:"parts"`
	Cycle      float64     `json:"cycle_seconds"`  // a run with loading, expected breaks and bobbins
	Setup      float64     `json:"set_up_seconds"` // at most: as if no cone were on
	Total      float64     `json:"total_seconds"`  // set-up and all runs

	Colours    []RunColour `json:"colours"`
	Bobbins    int         `json:"bobbins"`           // to have at hand
	BobbinRuns int         `json:"runs_per_bobbin"`   // full runs one bobbin lasts; 0: less than one
	Breaks     float64     `json:"breaks"`            // thread breaks to expect, all runs
	Rethreads  int         `json:"rethreads_per_run"` // by hand
	Stops      []string    `json:"stops"`             // where the operator must act
	Cautions   []string    `json:"cautions"`
	Page       string      `json:"page"` // where the run is recorded; empty: no page's address is known

	Stitched *stitch.Design `json:"-"` // for the drawing
}

// RunBlock is one colour block in its order.
type RunBlock struct {
	Block    int     `json:"block"`  // from 1
	Needle   int     `json:"needle"` // from 1
	Thread   string  `json:"thread"`
	Cone     string  `json:"cone"`   // "put on", "stays" or "re-thread by hand"
	Colour   string  `json:"colour"` // #rrggbb, empty: not known
	Stitches int     `json:"stitches"`
	Starts   float64 `json:"starts_seconds"` // from the start button
	Seconds  float64 `json:"seconds"`
}

// RunColour is the thread of one colour for all pieces.
type RunColour struct {
	Thread string  `json:"thread"`
	Needle int     `json:"needle"`
	Metres float64 `json:"metres"` // all pieces
	Cones  int     `json:"cones"`  // to have at hand, those on the heads included
}

// RecordPath is where the page records pieces of a line: it stands, behind the
// page's address, in the code on the run sheet.
func RecordPath(number, line int) string {
	return "/orders/" + strconv.Itoa(number) + "/record?line=" + strconv.Itoa(line)
}

// MakeRunSheet gathers a line's run sheet for a machine; machineID empty is
// where the plan or a hold has it. quantity 0 is what the plan puts there, or
// all that is left.
func (s *Shop) MakeRunSheet(ctx context.Context, id string, line int, machineID string, quantity int) (*RunSheet, error) {
	o, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	l := o.Line(line)
	if l == nil {
		return nil, Errorf(NotFound, "order %d has no line %d", o.Number, line)
	}
	w, _, err := s.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	last, err := s.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	r := &RunSheet{OrderID: o.ID, Number: o.Number, Line: l.Line, Name: book.LineName(o, l.Line), Customer: o.Customer, ShopName: w.Name, Note: o.Note, Placement: l.Placement, Garment: l.Garment, Due: o.Due, DesignID: l.DesignID, Frame: l.Frame(),
		Stops: []string{}, Cautions: append([]string{}, paper.Cautions...)}
	if machineID == "" && len(l.Holds) > 0 {
		machineID = l.Holds[0].MachineID
	}
	if last != nil {
		for i := range last.Lots {
			lot := &last.Lots[i]
			if lot.OrderID == o.ID && lot.Line == l.Line && (machineID == "" || lot.MachineID == machineID) {
				machineID = lot.MachineID
				r.Planned, r.Done = lot.From, lot.To
				if quantity == 0 {
					quantity = min(lot.Quantity, l.Left())
				}
				break
			}
		}
	}
	if machineID == "" {
		return nil, Errorf(Invalid, "%s is on no machine yet: make a plan, or name the machine", r.Name)
	}
	if quantity == 0 {
		quantity = l.Left()
	}
	if quantity < 1 {
		return nil, Errorf(Invalid, "all pieces of %s are sewn: there is nothing for a run sheet", r.Name)
	}
	if set, err := s.Settings(ctx); err != nil {
		return nil, err
	} else if set.ShopName != "" {
		r.ShopName = set.ShopName
	}
	r.Quantity = quantity
	st, k, err := s.lineOnMachine(ctx, w, l, machineID)
	if err != nil {
		return nil, err
	}
	if k.Why != "" {
		return nil, Errorf(Invalid, "%s cannot make %s: %s", st.Name, r.Name, k.Why)
	}
	if w.PageURL != "" {
		if u, err := url.Parse(w.PageURL); err == nil && (u.Scheme == "http" || u.Scheme == "https") {
			r.Page = strings.TrimRight(w.PageURL, "/") + RecordPath(o.Number, l.Line)
		}
	}
	on, err := s.conesBefore(ctx, last, o, l, st)
	if err != nil {
		return nil, err
	}
	return r, s.fillRunSheet(ctx, r, w, l, st, k, on)
}

// conesBefore are the thread colours that are on a machine when a line's turn
// comes: those of the lot before it in the plan, else of what was last
// reported from it.
func (s *Shop) conesBefore(ctx context.Context, last *Plan, o *Order, l *OrderLine, st *station) (map[string]bool, error) {
	var id string
	line := 0
	if last != nil {
		for i := range last.Lots {
			lot := &last.Lots[i]
			if lot.MachineID == st.ID {
				if lot.OrderID == o.ID && lot.Line == l.Line {
					break
				}
				id, line = lot.OrderID, lot.Line
			}
		}
	}
	if id == "" {
		reports, err := s.allReports(ctx)
		if err != nil {
			return nil, err
		}
		for _, r := range reports {
			if r.MachineID == st.ID {
				id, line = r.OrderID, r.Line
			}
		}
	}
	on := map[string]bool{}
	if id == "" {
		return on, nil
	}
	before, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	k := before.Line(line)
	if k == nil {
		return on, nil
	}
	d, err := s.store.Design(ctx, k.DesignID)
	if err != nil {
		return nil, err
	}
	for _, t := range book.BlockThreads(k, d.Book()) {
		on[strings.ToLower(t)] = true
	}
	return on, nil
}

func (s *Shop) fillRunSheet(ctx context.Context, r *RunSheet, w *Workshop, l *OrderLine, st *station, k *lineOn, on map[string]bool) error {
	d, err := s.store.Design(ctx, l.DesignID)
	if err != nil {
		return err
	}
	design, err := s.Stitches(ctx, l.DesignID)
	if err != nil {
		return err
	}
	r.Design, r.File, r.Stitches, r.WidthMM, r.HeightMM, r.Stitched = d.Name, d.File, d.Stitches, d.WidthMM, d.HeightMM, coloured(design, book.BlockThreads(l, d.Book()), book.BlockColours(l, d.Book()))
	r.Machine, r.MachineID, r.Heads = st.Name, st.ID, min(st.heads, r.Quantity)
	r.Runs = (r.Quantity + st.heads - 1) / st.heads
	r.LastRun = r.Quantity - (r.Runs-1)*st.heads
	job := st.clockJob(l, k)
	points, best := clock.Sweep(design, st.Sheet, job)
	knee := int(points[best].SetSpeed + .5)
	atRated := clock.Run(design, st.Sheet, job)
	r.Rated = int(st.Sheet.MaxSpeed + .5)
	r.Speed, r.SpeedWhy = int(atRated.SetSpeed+.5), "the setting for these goods"
	if knee < r.Speed {
		r.SpeedWhy = fmt.Sprintf("the knee: from here to %d this design gains next to nothing", r.Speed)
		r.Speed = knee
	}
	job.Speed = float64(r.Speed)
	res, how := clock.How(design, st.Sheet, job, clock.DefaultLevel)
	r.RunSeconds, r.Low, r.High, r.Parts, r.Rethreads = res.Seconds, how.Low, how.High, res.Parts, res.Rethreads
	r.Cycle = (k.Cycle + res.Seconds - atRated.Seconds) * st.rates.Pace
	r.Setup = st.setup(k)
	r.Total = r.Setup + float64(r.Runs)*r.Cycle
	r.Breaks = st.floor.Breaks / 1000 * float64(k.Stitches) * float64(r.Quantity)
	names, colours := book.BlockThreads(l, d.Book()), book.BlockColours(l, d.Book())
	at := 0.0 // block 1 has the start in it
	needle := map[string]int{}
	for i, b := range res.Blocks {
		rb := RunBlock{Block: i + 1, Needle: b.Needle + 1, Stitches: b.Stitches, Seconds: b.Seconds, Starts: at}
		at += b.Seconds
		if i < len(names) {
			rb.Thread = names[i]
			_, again := needle[names[i]]
			if !again {
				needle[names[i]] = rb.Needle
			}
			switch {
			case st.Sheet.Needles == 1 && i > 0:
				rb.Cone = "re-thread by hand"
			case again || on[strings.ToLower(names[i])]:
				rb.Cone = "stays"
			default:
				rb.Cone = "put on"
			}
		}
		if i < len(colours) {
			rb.Colour = colours[i]
		}
		r.Blocks = append(r.Blocks, rb)
		for range b.Stops {
			r.Stops = append(r.Stops, fmt.Sprintf("operator stop in block %d", i+1))
		}
	}
	if r.Rethreads > 0 {
		r.Stops = append(r.Stops, fmt.Sprintf("%d re-threads by hand in every run", r.Rethreads))
	}
	need, use, err := s.need(ctx, w, l, d, st, r.Quantity)
	if err != nil {
		return err
	}
	for _, c := range need.Colours {
		r.Colours = append(r.Colours, RunColour{Thread: c.Name, Needle: needle[c.Name], Metres: c.Order, Cones: c.Cones})
	}
	r.Bobbins = need.Bobbins
	if use.Total.Bobbin > 0 {
		r.BobbinRuns = int(need.PerBobbin)
	}
	if l.CapFrame {
		r.Cautions = append(r.Cautions, "Cap frame: check that the driver turns freely and clears the arm before the first cap.")
	}
	if l.Metallic {
		r.Cautions = append(r.Cautions, "Metallic thread: larger needle eye and lower tension; expect more breaks.")
	}
	if l.Heavy > 0 && l.Heavy < 1 {
		r.Cautions = append(r.Cautions, "Heavy goods: support their weight beside the frame so that they do not drag on it.")
	}
	return nil
}
