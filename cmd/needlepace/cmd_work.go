package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/jobs/parts"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/store/postgres"
)

// WorkCmd does large work of a shop in a database, together with others.
type WorkCmd struct {
	ShopFlags
	TableOut
	Slots int    `help:"Parts that are done at a time here; 0: none, where work is only put up or stopped. Default: one a core." default:"-1" placeholder:"N"`
	Times bool   `help:"Put up the run times of all designs on all machines, wait until they are there, and stop."`
	Audit string `help:"Put up the audit of all designs on this machine, wait until they are there, show what was found, and stop." placeholder:"MACHINE"`
	Floor string `help:"Put up the simulation of a shift, SHOP.toml with the shop's own machines and designs, wait until its yield is known, show it, and stop." placeholder:"SHOP"`
	ShiftFlags
	Size int    `help:"Designs in a part." default:"10" placeholder:"N"`
	Stop string `help:"Stop work that was put up, by its number, and stop." placeholder:"WORK"`
}

// The kinds of work in parts, beside parts.Heavy.
const (
	partTimes = "times"  // TimePart does it
	partAudit = "audits" // AuditPart does it
)

// mostPartTime is how long a part of a shift's simulation may take.
const mostPartTime = 10 * time.Minute

// auditPart is a part of the audit of many designs.
type auditPart struct {
	Machine string   `json:"machine"` // ID
	Designs []string `json:"designs"` // IDs
}

// Run works until it is interrupted, or until what it put up is done.
func (a *WorkCmd) Run(c *Ctx) error {
	path, err := a.path()
	if err != nil {
		return err
	}
	switch {
	case !postgres.IsAddress(path):
		return usagef("several programs work together on a shop in a database: name it with --store; with a file the page does all work itself")
	case a.Size < 1:
		return usagef("--size %d: give 1 or more", a.Size)
	case a.Times && a.Audit != "", a.Floor != "" && (a.Times || a.Audit != ""):
		return usagef("choose one of --times, --audit and --floor")
	case a.Audit == "" && a.Floor == "" && a.TableOut != TableOut{}:
		return usagef("--json, --csv and --xlsx are for --audit and --floor")
	}
	if err := a.TableOut.check(); err != nil {
		return err
	}
	a.build = buildDigest()
	return a.use(c, func(d *desk) error { return a.work(d, path) })
}

func (a *WorkCmd) work(d *desk, path string) error {
	slots := a.Slots
	if slots < 0 {
		slots = runtime.GOMAXPROCS(0)
	}
	if a.Stop != "" {
		slots = 0
	}
	var rounds []jobs.Round
	if slots > 0 && a.Stop == "" && !a.Times && a.Audit == "" && a.Floor == "" { // it is there to stay
		for _, r := range d.Rounds() {
			rounds = append(rounds, r)
		}
	}
	p, err := parts.Open(d.Context, path, parts.Options{Build: buildDigest(), Slots: slots, Rounds: rounds, Do: map[string]parts.Do{
		partTimes: func(ctx context.Context, part json.RawMessage, _ func(done, of float64)) (any, error) {
			var ids []string
			if err := json.Unmarshal(part, &ids); err != nil {
				return nil, err
			}
			return nil, d.TimePart(ctx, ids)
		},
		partAudit: func(ctx context.Context, part json.RawMessage, _ func(done, of float64)) (any, error) {
			var of auditPart
			if err := json.Unmarshal(part, &of); err != nil {
				return nil, err
			}
			return d.AuditPart(ctx, of.Designs, of.Machine)
		},
		parts.Heavy: parts.DoHeavy(d.Asked()),
	}})
	if err != nil {
		return err
	}
	err = func() error {
		switch {
		case a.Stop != "":
			if err := p.Stop(d.Context, a.Stop); err != nil {
				return err
			}
			fmt.Fprintln(d.Out, "Stopped; what was done stays.")
			return nil
		case a.Times, a.Audit != "":
			return a.putUp(d, p)
		case a.Floor != "":
			return a.floor(d, p)
		}
		fmt.Fprintf(d.Out, "Working for %s, %s at a time. Stop with Ctrl-C.\n", store.Shown(path), plural(slots, "part"))
		<-d.Done()
		return nil
	}()
	ctx, cancel := context.WithTimeout(context.WithoutCancel(d.Context), endTime)
	defer cancel()
	return errors.Join(err, p.Close(ctx))
}

// putUp puts up work over all designs and waits for it.
func (a *WorkCmd) putUp(d *desk, p *parts.Parts) error {
	var on *shop.Machine
	if a.Audit != "" {
		var err error
		if on, err = d.Machines.Find(d.Context, a.Audit); err != nil {
			return err
		}
	}
	all, err := d.TimeParts(d.Context, a.Size)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		fmt.Fprintln(d.Out, "The shop has no designs: there is nothing to do.")
		return nil
	}
	var id string
	if on == nil {
		id, err = parts.Begin(d.Context, p, partTimes, 0, all)
	} else {
		var of []auditPart
		for _, ids := range all {
			of = append(of, auditPart{on.ID, ids})
		}
		id, err = parts.Begin(d.Context, p, partAudit, 0, of)
	}
	if err != nil {
		return err
	}
	out := d.Out
	if a.Audit != "" {
		out = d.Err // the answer alone goes out
	}
	fmt.Fprintf(out, "Work %s: %s. Stop it with needlepace work --stop %s.\n", id, plural(len(all), "part"), id)
	done, err := a.wait(d.Ctx, out, p, id)
	if err != nil || !done || on == nil {
		return err
	}
	came, err := p.Outputs(d.Context, id)
	if err != nil {
		return err
	}
	var audited []ask.AuditedDesign
	for _, b := range came {
		var some []ask.AuditedDesign
		if err := json.Unmarshal(b, &some); err != nil {
			return err
		}
		audited = append(audited, some...)
	}
	answer := ask.NewAuditManyAnswer(on.Name, audited)
	return a.tell(d, "audits", answer, answer.Table(), answer.Verdict(), nil)
}

// floor puts up shifts until the yield is known as well as asked, and shows it. Nobody needs
// what is not waited for: it is stopped.
func (a *WorkCmd) floor(d *desk, p *parts.Parts) error {
	toml, err := readSettings(a.Floor)
	if err != nil {
		return err
	}
	sim, end := a.simulation(d.Ctx)
	by := parts.Over(p)
	by.Wait, by.Longest = true, mostPartTime
	said := ""
	by.Began = func(id string, n int) {
		fmt.Fprintf(d.Err, "Work %s: %s. Stop it with needlepace work --stop %s.\n", id, plural(n, "part"), id)
	}
	by.Told = func(w jobs.Work) {
		if w.Text != said {
			said = w.Text
			fmt.Fprintln(d.Err, said)
		}
	}
	ans, err := act.Answer(ask.WithElsewhere(d.Context, by), d.Shop, ask.Shift, ask.ShiftQuestion{Best: d.ShiftBest, Name: a.Floor, TOML: toml,
		Simulation: sim, Precision: a.Precision / 100, Shifts: a.Shifts})
	end()
	if err != nil {
		return err
	}
	ans.File = a.Floor
	if a.TableOut == (TableOut{}) {
		floorText(d.Ctx, ans)
		return nil
	}
	return a.tell(d, "shift", ans, ans.MachineTable(), ans.Verdict, nil)
}

// wait shows how far work has come until it is done; interrupted, the work goes on
// with the others.
func (a *WorkCmd) wait(c *Ctx, out io.Writer, p *parts.Parts, id string) (done bool, err error) {
	said := ""
	for {
		w, err := p.Look(c.Context, id)
		if c.Context.Err() != nil {
			fmt.Fprintln(out, "The work goes on where others do it.")
			return false, nil
		}
		if err != nil {
			return false, err
		}
		if w.Text != said {
			said = w.Text
			fmt.Fprintln(c.Err, said)
		}
		switch w.State {
		case jobs.Done:
			fmt.Fprintf(out, "Done in %.1f s.\n", w.Seconds)
			return true, nil
		case jobs.Failed, jobs.Cancel:
			return false, errors.New(w.Error.Text)
		}
		if err := p.Recover(c.Context, id); err != nil && c.Context.Err() == nil {
			return false, err
		}
		select {
		case <-time.After(300 * time.Millisecond):
		case <-c.Done():
		}
	}
}
