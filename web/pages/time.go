package pages

import (
	"cmp"
	"crypto/rand"
	"encoding/json"
	"net/url"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// timingRow is a timing under way, for lists.
type timingRow struct {
	*shop.Timing
	Design, Machine string
}

// openTimings lists the timings under way on a machine ("" for all).
func (c *call) openTimings(machineID string) ([]timingRow, error) {
	all, err := c.Shop.Timings.List(c.Ctx, machineID, true)
	if err != nil {
		return nil, err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for i, name := range shop.MachineNames(machines) {
		names[machines[i].ID] = name
	}
	w := c.writer()
	var out []timingRow
	for _, t := range all {
		row := timingRow{Timing: t, Design: words.Say("timing.a-design").Text(w),
			Machine: cmp.Or(names[t.MachineID], words.Say("timing.a-machine").Text(w))}
		if d, err := c.Shop.Designs.Get(c.Ctx, t.DesignID); err == nil {
			row.Design = d.Name
		}
		out = append(out, row)
	}
	return out, nil
}

// timeData is what choosing a run to time shows.
type timeData struct {
	Designs  *designChoice
	Field    field // in which one is chosen
	Machines []*shop.Machine
	Names    []string // of the machines, told apart
	Open     []timingRow
	Design   string
	Machine  string
	Teaches  *ask.TeachAnswer // of the chosen design on the chosen machine; nil where one is open
}

func showTime(c *call) error {
	q := c.Query()
	data := &timeData{Design: q.Get("design"), Machine: q.Get("machine")}
	var err error
	if data.Designs, err = c.designChoice(); err != nil {
		return err
	}
	if data.Machines, err = c.Shop.Machines.List(c.Ctx); err != nil {
		return err
	}
	data.Names = shop.MachineNames(data.Machines)
	if d, err := c.Shop.Designs.Get(c.Ctx, data.Design); err == nil { // it may be off the list
		data.Designs.with(d)
	}
	data.Field = (&form{}).Design("design", words.Say("timing.design").Text(c.writer()), data.Design, data.Designs)
	if data.Open, err = c.openTimings(""); err != nil {
		return err
	}
	if data.Design != "" && data.Machine != "" {
		if k, err := c.Shop.Clock(c.Ctx, data.Design, data.Machine, ask.Job{}); err == nil {
			data.Teaches = k.Teaches
		}
	}
	return c.show("time.html", &page{Title: words.Say("nav.time").Text(c.writer()), Nav: "time", Data: data})
}

// newTiming names a timing and goes to its page; nothing is kept before the
// first press.
func newTiming(c *call) error {
	q := c.Query()
	m, err := c.Shop.Machines.Get(c.Ctx, q.Get("machine"))
	if err != nil {
		return err
	}
	d, err := c.Shop.Designs.Find(c.Ctx, q.Get("design"))
	if err != nil {
		return shop.At("design", err)
	}
	speed := q.Number("speed")
	if q.Err != nil {
		return q.Err
	}
	if speed == 0 {
		speed = m.Sheet.MaxSpeed
	}
	kinds, err := machine.ParseJobs(strings.Join(q.Values["job"], "+"))
	if err != nil {
		return shop.At("job", shop.Invalidf("%w", err))
	}
	params := url.Values{"design": {d.ID}, "machine": {m.ID}, "job": {kinds.String()},
		"speed": {strconv.FormatFloat(min(max(speed, 10), 3000), 'f', -1, 64)}}
	return c.see("/time/" + strings.ToLower(rand.Text()) + "?" + params.Encode())
}

// stopwatch is the page a run is timed on.
type stopwatch struct {
	D        *shop.Design
	M        *shop.Machine
	ID       string
	SetSpeed float64
	Job      machine.Jobs
	Seconds  float64 // expected
	Low      float64 // to High: 9 times in 10
	High     float64
	Blocks   []stopwatchBlock
	Kept     string // the timing as the shop has it, JSON; empty for a new one
	Done     bool
	Teaches  *ask.TeachAnswer // before it is begun; else nil
}

type stopwatchBlock struct {
	Number  int
	Thread  string
	Seconds float64 // expected, from restart to standing
}

func showTiming(c *call) error {
	q := c.Query()
	data := &stopwatch{ID: c.PathValue("timing"), SetSpeed: q.Number("speed")}
	design, machineID, kinds := q.Get("design"), q.Get("machine"), q.Get("job")
	t, err := c.Shop.Timings.Get(c.Ctx, data.ID)
	switch {
	case err == nil:
		design, machineID, data.SetSpeed, data.Done = t.DesignID, t.MachineID, t.SetSpeed, t.Done
		kinds = t.Job
		b, err := json.Marshal(t)
		if err != nil {
			return err
		}
		data.Kept = string(b)
	case shop.CodeOf(err) != shop.NotFound:
		return err
	case q.Err != nil:
		return q.Err
	}
	if data.Job, err = machine.ParseJobs(kinds); err != nil {
		return shop.At("job", shop.Invalidf("%w", err))
	}
	if data.D, err = c.Shop.Designs.Get(c.Ctx, design); err != nil {
		return err
	}
	if data.M, err = c.Shop.Machines.Get(c.Ctx, machineID); err != nil {
		return err
	}
	k, err := c.Shop.Clock(c.Ctx, design, machineID, ask.Job{Speed: data.SetSpeed, Kinds: data.Job})
	if err != nil {
		return err
	}
	data.Seconds, data.Low, data.High = k.Seconds, k.Interval.Low, k.Interval.High
	if data.Kept == "" {
		data.Teaches = k.Teaches
	}
	for i := range k.Result.Blocks {
		b := stopwatchBlock{Number: i + 1, Seconds: k.Result.Blocks[i].Parts.Sewing() + k.Result.Blocks[i].Parts.Trims}
		if i < len(data.D.Threads) {
			b.Thread = data.D.Threads[i].Name
		}
		data.Blocks = append(data.Blocks, b)
	}
	return c.show("timing.html", &page{Title: words.Say("timing.title",
		words.Args{"design": words.Name(data.D.Name)}).Text(c.writer()),
		Nav: "time", Bare: true, Data: data})
}
