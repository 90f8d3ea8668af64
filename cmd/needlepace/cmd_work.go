package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"time"

	"needlepace/act"
	"needlepace/jobs"
	"needlepace/jobs/parts"
	"needlepace/store"
	"needlepace/store/postgres"
)

// WorkCmd does large work of a shop in a database, together with others.
type WorkCmd struct {
	DataFlag
	Slots int    `help:"Parts that are done at a time here; 0: none, where work is only put up or stopped. Default: one a core." default:"-1" placeholder:"N"`
	Times bool   `help:"Put up the run times of all designs on all machines, wait until they are there, and stop."`
	Size  int    `help:"Designs in a part of it." default:"10" placeholder:"N"`
	Stop  string `help:"Stop work that was put up, by its number, and stop." placeholder:"WORK"`
}

// partTimes is the kind of work that TimePart does.
const partTimes = "times"

// Run works until it is interrupted, or until what it put up is done.
func (a *WorkCmd) Run(c *Ctx) error {
	path, there, err := a.place()
	if err != nil {
		return err
	}
	if !postgres.IsAddress(path) {
		return usagef("several programs work together on a shop in a database: name it with --store; with a file the page does all work itself")
	}
	if !there {
		return usagef("there is no shop at %s", store.Shown(path))
	}
	if a.Size < 1 {
		return usagef("--size %d: give 1 or more", a.Size)
	}
	opened, err := store.Open(c.Context, path)
	if err != nil {
		return err
	}
	s := act.New(opened, act.Options{Build: buildDigest()})
	return errors.Join(a.work(c, s, path), opened.Close())
}

func (a *WorkCmd) work(c *Ctx, s *act.Shop, path string) error {
	slots := a.Slots
	if slots < 0 {
		slots = runtime.GOMAXPROCS(0)
	}
	if a.Stop != "" {
		slots = 0
	}
	p, err := parts.Open(c.Context, path, parts.Options{Build: buildDigest(), Slots: slots, Do: map[string]parts.Do{
		partTimes: func(ctx context.Context, part json.RawMessage) error {
			var ids []string
			if err := json.Unmarshal(part, &ids); err != nil {
				return err
			}
			return s.TimePart(ctx, ids)
		},
	}})
	if err != nil {
		return err
	}
	err = func() error {
		switch {
		case a.Stop != "":
			if err := p.Stop(c.Context, a.Stop); err != nil {
				return err
			}
			fmt.Fprintln(c.Out, "Stopped; what was done stays.")
			return nil
		case a.Times:
			all, err := s.TimeParts(c.Context, a.Size)
			if err != nil {
				return err
			}
			if len(all) == 0 {
				fmt.Fprintln(c.Out, "The shop has no designs: there is nothing to do.")
				return nil
			}
			id, err := parts.Begin(c.Context, p, partTimes, all)
			if err != nil {
				return err
			}
			fmt.Fprintf(c.Out, "Work %s: %s. Stop it with needlepace work --stop %s.\n", id, plural(len(all), "part"), id)
			return a.wait(c, p, id)
		}
		fmt.Fprintf(c.Out, "Working for %s, %s at a time. Stop with Ctrl-C.\n", store.Shown(path), plural(slots, "part"))
		<-c.Done()
		return nil
	}()
	ctx, cancel := context.WithTimeout(context.WithoutCancel(c.Context), endTime)
	defer cancel()
	return errors.Join(err, p.Close(ctx))
}

// wait shows how far work has come until it is done; interrupted, the work goes on
// with the others.
func (a *WorkCmd) wait(c *Ctx, p *parts.Parts, id string) error {
	said := ""
	for {
		w, err := p.Look(c.Context, id)
		if c.Context.Err() != nil {
			fmt.Fprintln(c.Out, "The work goes on where others do it.")
			return nil
		}
		if err != nil {
			return err
		}
		if w.Text != said {
			said = w.Text
			fmt.Fprintln(c.Err, said)
		}
		switch w.State {
		case jobs.Done:
			fmt.Fprintf(c.Out, "Done in %.1f s.\n", w.Seconds)
			return nil
		case jobs.Failed, jobs.Cancel:
			return errors.New(w.Error.Text)
		}
		select {
		case <-time.After(300 * time.Millisecond):
		case <-c.Done():
		}
	}
}
