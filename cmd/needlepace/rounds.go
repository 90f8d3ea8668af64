package main

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"needlepace/act"
	"needlepace/jobs"
	"needlepace/jobs/parts"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/store/postgres"
	"needlepace/web"
	"needlepace/web/watch"
	"needlepace/words"
)

// roundsOf are what the program does for a shop by itself, told in the log and to who watches it.
func (a *ServeCmd) roundsOf(s *act.Shop, log *slog.Logger, w *watch.Watch) []jobs.Round {
	var out []jobs.Round
	for _, r := range s.Rounds() {
		r.Told = toldRound(log, w)
		out = append(out, r)
	}
	return out
}

// toldRound tells how a round went: in the log what failed, and what was found that was not found before.
func toldRound(log *slog.Logger, w *watch.Watch) func(r *shop.Round) {
	return func(r *shop.Round) {
		w.Round(r.Name, len(r.Found), r.Failed != "")
		if r.Failed != "" {
			log.Error("what the program does by itself failed", "what", r.Name, "why", r.Failed)
		}
		for _, f := range r.Found {
			if !f.First.Before(r.Began) {
				log.Warn("found", "what", r.Name, "found", f.Say.Raw())
			}
		}
	}
}

// doRounds has rounds done until end: in turns with other programs where the shop is in a database, else here. Of many shops
// in a database each is served by one program, which does its rounds alone: River asks for some connections a shop.
func (a *ServeCmd) doRounds(c *Ctx, app *web.Server, log *slog.Logger, place string, rounds []jobs.Round) (end func(), err error) {
	if !postgres.IsAddress(place) {
		return jobs.Regularly(log, jobs.In(app.Jobs()), rounds...), nil
	}
	p, err := parts.Open(c.Context, place, parts.Options{Build: buildDigest(), Rounds: rounds, Log: log})
	if err != nil {
		return nil, err
	}
	return func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(c.Context), time.Second)
		defer cancel()
		if err := p.Close(ctx); err != nil { // what was under way is done by another, or the next time
			log.Warn("what the program was doing by itself was stopped", "error", err)
		}
	}, nil
}

// copyRound makes the copies of a shop. They are named by their folder, of a shop in a database by this computer too.
func (a *ServeCmd) copyRound(s *act.Shop, log *slog.Logger, place string, copies *watch.Copies, w *watch.Watch) (*act.Round, error) {
	folder, err := filepath.Abs(a.Copies)
	if err != nil {
		return nil, err
	}
	if postgres.IsAddress(place) { // of several computers each has its own
		host, err := os.Hostname()
		if err != nil {
			return nil, err
		}
		folder = host + ":" + folder
	}
	c, tell := store.Copies{Folder: a.Copies, Keep: a.CopyKeep}, told(copies, log, place)
	c.Begin(a.CopyEvery, tell)
	r := s.CopyRound(folder, func() (time.Time, error) {
		at, err := c.Due(a.CopyEvery, time.Now())
		if err != nil { // it is told of when a copy is tried
			return time.Now(), nil
		}
		if all, err := c.All(); err == nil && len(all) > 0 && all[len(all)-1].At.After(copies.State().At) { // another program made it
			is := all[len(all)-1]
			copies.Tell(is.File, is.At, is.Bytes, at, nil)
		}
		return at, nil
	}, func(ctx context.Context) (words.Message, error) {
		made, next, err := c.Next(ctx, place, a.CopyEvery)
		if ctx.Err() == nil {
			tell(made, next, err)
		}
		if err != nil {
			return words.Message{}, err
		}
		return words.Say("rounds.copied", words.Args{"file": words.Name(filepath.Base(made.File)), "mb": words.Fixed(float64(made.Bytes)/1e6, 1)}), nil
	})
	r.Told = func(is *shop.Round) { w.Round(is.Name, 0, is.Failed != "") }
	return r, nil
}
