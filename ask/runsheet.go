package ask

import (
	"context"
	"math"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/words"
)

// Unplanned is the key of the error of a run sheet of a line that is on no machine.
const Unplanned = "unplanned"

// RunSheetQuestion asks for what the floor needs to sew a line.
type RunSheetQuestion struct {
	Order    string // its ID
	Line     int
	Machine  string // ID; empty: where the plan or a hold has it
	Quantity int    // pieces; 0: what the plan puts there, or all that are left
	// Colour is of the garments, where the line's threads differ by it; empty: the
	// first that are left.
	Colour string
	Now    time.Time // the time of day: what changed since the plan was made is said as of then
}

// RunSheetFrom is what a run sheet is made from.
type RunSheetFrom interface {
	PlanFrom
	// ShopName is as in QuoteFrom.
	ShopName(ctx context.Context) (string, error)
}

// RunSheet gathers a line's run sheet for a machine.
func RunSheet(ctx context.Context, from RunSheetFrom, q RunSheetQuestion) (*book.RunSheet, error) {
	o, err := from.Order(ctx, q.Order)
	if err != nil {
		return nil, err
	}
	l := o.Line(q.Line)
	if l == nil {
		return nil, noLine(o, q.Line)
	}
	if l.Partner.Sews() {
		return nil, refusing(words.Say("refused.partner",
			words.Args{"name": words.Name(book.LineName(o, l.Line)), "partner": words.Name(l.Partner.Name)}))
	}
	part, err := PartOf(ctx, from, o, l, q.Colour)
	if err != nil {
		return nil, err
	}
	l = part.Line
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	last, err := from.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	if last != nil {
		reports, err := from.Reports(ctx)
		if err != nil {
			return nil, err
		}
		last = last.Rest(reports)
	}
	r := &book.RunSheet{
		OrderID: o.ID, Number: o.Number, Line: l.Line, Name: book.LineName(o, l.Line), Customer: o.Customer,
		Note: o.Note, Placement: l.Placement, Garment: l.Garment, Due: o.Due, DesignID: l.DesignID, Frame: l.Frame(),
		Again: l.Rework(), Garments: l.Garments(), Stops: []words.Plain{}, Cautions: cautions(l),
	}
	machineID := q.Machine
	if machineID == "" && len(l.Holds) > 0 {
		machineID = l.Holds[0].MachineID
	}
	if len(l.GarmentThreads) > 0 {
		r.Colour = part.Colour
		r.On = part.Colours
	}
	asked := q.Quantity > 0
	before := 0 // pieces of the part in lots that are sewn sooner
	if last != nil {
		for i := range last.Lots {
			lot := &last.Lots[i]
			if lot.OrderID == o.ID && lot.Line == l.Line && lot.Colour == r.Colour && lot.Quantity > 0 &&
				(machineID == "" || lot.MachineID == machineID) {
				machineID = lot.MachineID
				before = last.Before(lot)
				r.Planned, r.Done = lot.From, lot.To
				if q.Quantity == 0 {
					q.Quantity = min(lot.Quantity, l.Left())
				}
				break
			}
		}
	}
	if !r.Planned.IsZero() {
		since, err := Since(ctx, from, SinceQuestion{Now: q.Now})
		if err != nil {
			return nil, err
		}
		r.Since = words.Plain(since.Line())
	}
	for _, h := range l.Holds { // what is on it, whatever the plan had
		if h.MachineID == machineID && h.Quantity > 0 && h.Colour == r.Colour && !asked {
			q.Quantity = min(h.Quantity, l.Left())
		}
	}
	if machineID == "" {
		err := refusing(words.Say("refused.no-machine", words.Args{"name": words.Name(r.Name)}))
		err.Key = Unplanned
		return nil, err
	}
	if q.Quantity == 0 {
		q.Quantity = l.Left()
	}
	switch {
	case q.Quantity < 1 && l.Left() == 0:
		return nil, refusing(words.Say("refused.sheet-sewn", words.Args{"name": words.Name(r.Name)}))
	case q.Quantity < 1 || q.Quantity > floor.MaxQuantity:
		return nil, refusing(words.Say("refused.sheet-pieces", words.Args{"n": words.Whole(q.Quantity),
			"most": words.Whole(floor.MaxQuantity)}))
	}
	if r.ShopName, err = from.ShopName(ctx); err != nil {
		return nil, err
	}
	if r.ShopName == "" {
		r.ShopName = w.Name
	}
	r.Quantity, r.Sizes = q.Quantity, sizesOf(part, before, q.Quantity)
	l = namesOfLot(l, before, q.Quantity)
	r.DesignID = l.DesignID
	st, k, err := lineOnMachine(ctx, from, w, l, machineID)
	if err != nil {
		return nil, err
	}
	if !k.Why.IsZero() {
		return nil, st.refuses(k.Why)
	}
	// Without an address of the page the code still says order, line and machine.
	r.Page = book.RecordPath(o.Number, l.Line, machineID, r.Colour)
	if u, err := url.Parse(w.PageURL); err == nil && (u.Scheme == "http" || u.Scheme == "https") {
		r.Page = strings.TrimRight(w.PageURL, "/") + r.Page
	}
	on, err := conesBefore(ctx, from, last, o, l, r.Colour, st)
	if err != nil {
		return nil, err
	}
	cut, err := CutShort(ctx, from, l, map[string]bool{})
	if err != nil {
		return nil, err
	}
	if len(cut) > 0 {
		r.Cautions = slices.Insert(r.Cautions, 0, words.Plain(words.Say("caution.cut", words.Args{"files": cut})))
	}
	return r, fillRunSheet(ctx, from, r, w, l, st, k, on)
}

// conesBefore are the thread colours that are on a machine when a line's turn
// comes: those of the lot before it in the plan, else of what was last
// reported from it. of is the garment colour of the line's lot, where its
// threads differ by it.
func conesBefore(
	ctx context.Context, from PlanFrom, last *book.Plan, o *book.Order, l *book.OrderLine, of string, st *station,
) (map[string]bool, error) {
	var id, colour string
	line := 0
	if last != nil {
		for i := range last.Lots {
			lot := &last.Lots[i]
			if lot.MachineID == st.ID {
				if lot.OrderID == o.ID && lot.Line == l.Line && lot.Colour == of {
					break
				}
				id, line, colour = lot.OrderID, lot.Line, lot.Colour
			}
		}
	}
	if id == "" {
		reports, err := from.Reports(ctx)
		if err != nil {
			return nil, err
		}
		for _, r := range reports {
			if r.MachineID == st.ID {
				id, line, colour = r.OrderID, r.Line, r.Colour
			}
		}
	}
	on := map[string]bool{}
	if id == "" {
		return on, nil
	}
	before, err := from.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	k := before.Line(line)
	if k == nil {
		return on, nil
	}
	d, err := from.Design(ctx, k.DesignID)
	if err != nil {
		return nil, err
	}
	sh, err := shapeOf(ctx, from, k.InColour(colour), d)
	if err != nil {
		return nil, err
	}
	for _, t := range sh.blocks {
		on[strings.ToLower(t)] = true
	}
	return on, nil
}

func fillRunSheet(
	ctx context.Context, from PlanFrom, r *book.RunSheet, w *book.Workshop, l *book.OrderLine,
	st *station, k *lineOn, on map[string]bool,
) error {
	d, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return err
	}
	design, err := from.Stitches(ctx, l.DesignID)
	if err != nil {
		return err
	}
	r.Design, r.File, r.Label = d.Name, d.File, d.LabelBeside()
	r.Stitches, r.WidthMM, r.HeightMM = d.Stitches, d.WidthMM, d.HeightMM
	names, colours := book.BlockThreads(l, d), book.BlockColours(l, d)
	if l.NamesAlone {
		names, colours = book.LetteringThreads(l, d), book.BlockColours(l.Lettering(), d)
	}
	r.Stitched = book.Coloured(design, names, colours)
	r.Machine, r.MachineID, r.Heads = st.Name, st.ID, min(st.heads, r.Quantity)
	r.Runs = (r.Quantity + st.heads - 1) / st.heads
	r.LastRun = r.Quantity - (r.Runs-1)*st.heads
	job := st.clockJob(l, k)
	knees, err := kneeOn(ctx, from, l.DesignID, st, job)
	if err != nil {
		return err
	}
	knee := int(knees + .5)
	atRated, err := timedOn(ctx, from, l.DesignID, st, job)
	if err != nil {
		return err
	}
	r.Rated = int(st.Sheet.MaxSpeed + .5)
	r.Speed, r.SpeedWhy = int(atRated.SetSpeed+.5), words.Plain(words.Say("runsheet.for-goods"))
	if knee < r.Speed {
		r.SpeedWhy = words.Plain(words.Say("runsheet.knee", words.Args{"speed": words.Whole(r.Speed)}))
		r.Speed = knee
	}
	if k.Names == nil { // names' files are no part of the design that is weighed
		best, err := bestSpeed(ctx, from, l.DesignID, st, k, job, atRated.SetSpeed, knees)
		if err != nil {
			return err
		}
		r.BestSpeed = best.Speed
		switch at := words.PerMinute(best.Speed); {
		case !best.Known:
			r.BestSay = words.Plain(words.Say("runsheet.best-unknown"))
		case best.Speed == best.Top:
			r.BestSay = words.Plain(words.Say("runsheet.best-top", words.Args{"best": at}))
		default:
			r.BestSay = words.Plain(words.Say("runsheet.best-known", words.Args{"best": at, "chance": words.Chance(best.Sure)}))
		}
		if best.Sure > 0 && int(best.Speed) < r.Speed {
			r.SpeedWhy = words.Plain(words.Say("runsheet.why-best", words.Args{"why": r.SpeedWhy, "best": words.PerMinute(best.Speed)}))
		}
	}
	job.Speed = float64(r.Speed)
	res, err := clockOn(ctx, from, l.DesignID, st, job)
	if err != nil {
		return err
	}
	run, rated := &LineRun{}, atRated.Seconds
	if !l.NamesAlone {
		run.add(res)
	}
	if err := run.letter(ctx, from, st, job, k.Names, true); err != nil {
		return err
	}
	if k.Names != nil {
		rated = k.Seconds
	}
	r.RunSeconds, r.Low, r.High = run.Seconds, run.Interval.Low, run.Interval.High
	r.Parts, r.Rethreads = run.Parts, res.Rethreads
	r.Cycle = (k.Cycle + run.Seconds - rated) * st.rates.Pace
	r.Setup = st.setup(k)
	r.Total = r.Setup + float64(r.Runs)*r.Cycle - float64(r.Runs*st.heads-r.Quantity)*k.Idle*st.rates.Pace
	r.Breaks = st.floor.Breaks / 1000 * float64(k.Stitches) * float64(r.Quantity)
	at := 0.0 // block 1 has the start in it
	needle := map[string]int{}
	block := func(thread, colour string, on0, stitches int, seconds float64) {
		i := len(r.Blocks)
		rb := book.RunBlock{Block: i + 1, Needle: on0 + 1, Thread: thread, Colour: colour, Stitches: stitches, Seconds: seconds, Starts: at}
		at += seconds
		if thread != "" {
			_, again := needle[thread]
			if !again {
				needle[thread] = rb.Needle
			}
			switch {
			case st.Sheet.Needles == 1 && i > 0:
				rb.Cone = words.Plain(words.Say("runsheet.re-thread"))
			case again || on[strings.ToLower(thread)]:
				rb.Cone = words.Plain(words.Say("runsheet.stays"))
			default:
				rb.Cone = words.Plain(words.Say("runsheet.put-on"))
			}
		}
		r.Blocks = append(r.Blocks, rb)
	}
	for i, b := range res.Blocks {
		if l.NamesAlone {
			break
		}
		thread, colour := "", ""
		if i < len(names) {
			thread, colour = names[i], colours[i]
		}
		block(thread, colour, b.Needle, b.Stitches, b.Seconds)
		for range b.Stops {
			r.Stops = append(r.Stops, words.Plain(words.Say("runsheet.stop-in-block",
				words.Args{"n": words.Whole(i + 1)})))
		}
	}
	for i, b := range run.blocks {
		colour := ""
		if i < len(l.NameThreads) {
			_, colour = book.SplitThread(l.NameThreads[i])
		} else if l.NamesAlone && i < len(colours) {
			colour = colours[i]
		}
		block(b.thread, colour, b.needle, int(math.Round(b.stitches)), b.seconds)
	}
	fillNames(r, l, st.heads, k, run)
	if r.Rethreads > 0 {
		r.Stops = append(r.Stops, words.Plain(words.Say("runsheet.re-threads",
			words.Args{"n": words.Whole(r.Rethreads)})))
	}
	need, use, err := need(ctx, from, w, l, d, st, r.Quantity)
	if err != nil {
		return err
	}
	for _, c := range need.Colours {
		r.Colours = append(r.Colours, book.RunColour{
			Thread: c.Name, Needle: needle[c.Name], Metres: c.Order, Cones: c.Cones,
		})
	}
	r.Bobbins = need.Bobbins
	if use.Total.Bobbin > 0 {
		r.BobbinRuns = int(need.PerBobbin)
	}
	return nil
}

// cautions are what is said of safety with a line.
func cautions(l *book.OrderLine) []words.Plain {
	out := book.Cautions()
	if l.Approval.Wanted() {
		out = slices.Insert(out, 0, words.Plain(words.Say("caution.not-approved")))
	}
	kinds := l.Kinds()
	if kinds&machine.CapFrame != 0 {
		out = append(out, words.Plain(words.Say("caution.cap-frame")))
	}
	if kinds&machine.Metallic != 0 {
		out = append(out, words.Plain(words.Say("caution.metallic")))
	}
	if kinds&machine.Heavy != 0 || l.Heavy > 0 && l.Heavy < 1 {
		out = append(out, words.Plain(words.Say("caution.heavy")))
	}
	return out
}

// RunSheetReach says why a phone cannot open the address of a run sheet's code: none is
// set, or it is this computer's own; nothing where it can.
func RunSheetReach(page string) words.Message {
	u, err := url.Parse(page)
	switch {
	case err != nil || u.Host == "":
		return words.Say("runsheet.no-address")
	case u.Hostname() == "localhost":
		return words.Say("runsheet.loopback")
	}
	if ip, err := netip.ParseAddr(u.Hostname()); err == nil && ip.IsLoopback() {
		return words.Say("runsheet.loopback")
	}
	return words.Message{}
}
