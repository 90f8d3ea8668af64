package pages

import (
	"cmp"
	"fmt"
	"html/template"
	"net/url"
	"time"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// countsFrom is how long before somebody is needed the seconds are counted; before,
// it says when that is. today.js has the same.
const countsFrom = 12 * time.Hour

// todayData is the shop at a moment, as its page and the wall show it.
type todayData struct {
	A     *ask.TodayAnswer
	D     serve.When
	Rows  []todayRow
	First *ask.TodayNeed  // nil: nobody is in need
	In    words.Value     // until First: a countdown, or when it is, where that is far
	Soon  []ask.TodayNeed // the first of the needs; Later are folded
	Later []ask.TodayNeed
	Watch []watchRow
	More  int // that Watch leaves out
}

// Counts says whether the seconds until then are counted.
func (d *todayData) Counts(at time.Time) bool { return at.Sub(d.A.Now) <= countsFrom }

// todayRow is a machine.
type todayRow struct {
	*ask.TodayMachine
	Strip        template.HTML
	Need         *ask.TodayNeed // the next at which it needs a person
	In           words.Value    // as above
	Record, Run  string         // addresses; empty: nothing to record, no run sheet
	Ends, Late   words.Value
	Day, InDay   words.Value // Ends and In, as far as they are read from afar: the time, or another day
	Stitch       string      // as asked
	Left         *ask.LeftAnswer
	Wrong        string // with what was asked
	Next, Colour words.Value
}

// watchRow is something that needs a person, with where it is put right.
type watchRow struct {
	Say words.Message
	To  string
}

// watchOnPage is how much of what needs a person stands on the page, and how many of those who need one next are not folded.
const watchOnPage = 12

func showToday(c *call) error {
	data, err := c.today()
	if err != nil {
		return err
	}
	q := c.Query()
	if q.Get("machine") != "" && q.Get("stitch") != "" {
		stitch := q.Integer("stitch", 0)
		for i := range data.Rows {
			r := &data.Rows[i]
			if r.ID != q.Get("machine") {
				continue
			}
			r.Stitch = q.Get("stitch")
			err := q.Err
			if err == nil {
				r.Left, err = ask.Left(c.Ctx, c.Shop.Asked(), ask.LeftQuestion{Now: c.Shop.Now(), Machine: r.ID, Stitch: stitch,
					Order: q.Get("order"), Line: q.Integer("line", 1)})
			}
			switch shop.CodeOf(shop.AsInvalid(err)) {
			case "":
			case shop.Invalid, shop.NotFound:
				r.Wrong = words.Sentence(err.Error())
			default:
				return err
			}
		}
	}
	p := &page{Title: words.Say("today.title").Text(data.D.W), Nav: "today", Data: data}
	p.addTables(data.D.W, data.A.MachineTable(), data.A.NeedTable())
	return c.show("today.html", p)
}

// showWall is the same for a screen on the shop floor.
func showWall(c *call) error {
	data, err := c.today()
	if err != nil {
		return err
	}
	return c.show("wall.html", &page{Title: words.Say("today.wall").Text(data.D.W), Nav: "today", Bare: true, Data: data})
}

func (c *call) today() (*todayData, error) {
	a, err := c.Today()
	if err != nil {
		return nil, err
	}
	d, _, err := c.When()
	if err != nil {
		return nil, err
	}
	data := &todayData{A: a, D: d}
	until := func(at time.Time) words.Value {
		if !data.Counts(at) {
			return a.At(at)
		}
		return words.Clock(max(0, at.Sub(a.Now).Seconds()))
	}
	soon := min(len(a.Needs), watchOnPage)
	if data.Soon, data.Later = a.Needs[:soon], a.Needs[soon:]; soon > 0 {
		data.First, data.In = &a.Needs[0], until(a.Needs[0].At)
	}
	for i := range a.Machines {
		m := &a.Machines[i]
		r := todayRow{TodayMachine: m}
		for k := range a.Needs {
			if a.Needs[k].MachineID == m.ID {
				r.Need, r.In = &a.Needs[k], until(a.Needs[k].At)
				if r.InDay = r.In; !data.Counts(r.Need.At) {
					r.InDay = day(a, r.Need.At)
				}
				break
			}
		}
		if n := m.Next; n != nil {
			r.Next = words.Say("today.then", words.Args{"order": words.Name(n.Name), "customer": words.Name(n.Customer),
				"pieces": words.Count(n.Pieces, "piece"), "at": a.At(n.SetUpFrom)})
			r.Run = address(n.Number, "runsheet", n.Line, m.ID, n.Colour)
		}
		if on := m.On; on != nil {
			r.fill(a, on, d)
			r.Run = address(on.Number, "runsheet", on.Line, m.ID, on.Colour)
			r.Record = address(on.Number, "record", on.Line, m.ID, on.Colour)
		}
		data.Rows = append(data.Rows, r)
	}
	for i := range a.Watch {
		w := &a.Watch[i]
		if i >= watchOnPage {
			data.More++
			continue
		}
		to := "/plan"
		switch {
		case w.Kind == ask.WatchTakeOff:
			to = address(w.Number, "record", w.Line, w.MachineID, w.Colour) // what is sewn is recorded, and the rest taken off there
		case w.Number > 0:
			to = fmt.Sprint("/orders/", w.Number)
		case w.MachineID != "":
			to = "/machines/" + w.MachineID
		}
		data.Watch = append(data.Watch, watchRow{w.Say, to})
	}
	return data, nil
}

// address is a page of an order's line on a machine.
func address(order int, page string, line int, machine, colour string) string {
	q := url.Values{"line": {fmt.Sprint(line)}, "machine": {machine}}
	if colour != "" {
		q.Set("colour", colour)
	}
	return fmt.Sprintf("/orders/%d/%s?%s", order, page, q.Encode())
}

// day is a time as far as it is read from afar: the time of day where that is near, over midnight too, or another day.
func day(a *ask.TodayAnswer, at time.Time) words.Value {
	if a.Zone.Day(at) == a.Zone.Day(a.Now) || at.Sub(a.Now).Abs() <= countsFrom {
		return a.Zone.ClockAt(at)
	}
	return words.NearDay{Day: a.Zone.Day(at), Today: a.Zone.Day(a.Now)}
}

// fill draws what is on a machine: its run's strip with where it is now.
func (r *todayRow) fill(a *ask.TodayAnswer, on *ask.TodayOn, d serve.When) {
	r.Ends, r.Day = a.At(on.Ends), day(a, on.Ends)
	if on.Late > 0 {
		r.Late = words.Say("today.late-by", words.Args{"late": words.Span(on.Late / 3600)})
	} else if on.Behind > 60 {
		r.Late = words.Say("today.behind", words.Args{"behind": words.Span(on.Behind / 3600)})
	}
	if on.Change != nil {
		r.Colour = words.Say("today.colour-at", words.Args{"what": on.Change.Say(), "at": a.At(on.Change.At)})
	}
	parts := picture.PartsOf(on.Parts)
	r.Strip = bar{Parts: parts, Max: max(on.Seconds, 1e-9), Now: cmp.Or(on.At, 1e-9), W: d.W,
		Label: words.Say("today.strip", words.Args{"at": words.Clock(on.At), "of": words.Clock(on.Seconds),
			"parts": picture.TimedParts(parts)}).Text(d.W)}.HTML()
}
