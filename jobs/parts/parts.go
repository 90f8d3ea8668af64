// Package parts does large work in parts, by any number of programs on any number
// of computers that use one shop in a PostgreSQL database. River keeps the parts:
// each is done at least once and counted once, since it is marked as done in one
// step; one that fails is tried again, one whose worker died is given to another.
// So what a part does must be the same when it is done twice.
package parts

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"

	"needlepace/jobs"
	"needlepace/shop"
)

// Do does a part and gives what comes of it, nil for nothing: it is kept with the part
// (as JSON, at most 32 MB), once. It may be done twice. tell is told how far it is, in two
// figures that those who ask know how to read.
type Do func(ctx context.Context, part json.RawMessage, tell func(done, of float64)) (output any, err error)

// Options are how parts are done.
type Options struct {
	Build string        // only programs of one build share work: what they reckon is the same
	Slots int           // parts at a time in this program; 0: it only asks
	Do    map[string]Do // by kind
	// Rounds are done by this program in turns with others of any build that have them: see Regularly.
	Rounds []jobs.Round
	// Longest is how long a part may take that was begun without a time of its own; one whose
	// worker died and that nobody waits for (Recover) is given to another after twice that and
	// up to half a minute. 0: two minutes.
	Longest time.Duration
	// Seldom is for who only asks, and seldom: two connections to the database at most, none
	// for long, and no tables are made.
	Seldom bool
	Log    *slog.Logger
}

// tries of a part before its work has failed.
const tries = 5

// Parts are the parts in a shop's database.
type Parts struct {
	opt    Options
	pool   *pgxpool.Pool
	client *river.Client[pgx.Tx]
	shown  func() // ends its presence
	idle   func() // ends its looking for rounds
}

// args are a part as River keeps it.
type args struct {
	Work string          `json:"work"`
	What string          `json:"what"`
	Part json.RawMessage `json:"part"`
	// Longest is how long it may take; 0: Options.Longest.
	Longest time.Duration `json:"longest,omitempty"`
}

// Kind is what River calls all parts.
func (args) Kind() string { return "needlepace_part" }

type worker struct {
	river.WorkerDefaults[args]
	do   map[string]Do
	pool *pgxpool.Pool
}

// Timeout is how long a part may take; 0: as all.
func (w *worker) Timeout(j *river.Job[args]) time.Duration { return j.Args.Longest }

// tellEvery is how often a part tells how far it is.
const tellEvery = 400 * time.Millisecond

// Work does a part.
func (w *worker) Work(ctx context.Context, j *river.Job[args]) error {
	do := w.do[j.Args.What]
	if do == nil {
		return river.JobCancel(fmt.Errorf("this program knows no work called %s", j.Args.What))
	}
	var mu sync.Mutex
	next := time.Now().Add(tellEvery)
	out, err := do(ctx, j.Args.Part, func(done, of float64) {
		mu.Lock()
		defer mu.Unlock()
		if now := time.Now(); now.After(next) {
			next = now.Add(tellEvery)
			w.pool.Exec(ctx, `UPDATE river_job SET metadata = jsonb_set(metadata, '{told}', to_jsonb($2::float8[])) WHERE id = $1 AND state = 'running'`, //nolint:errcheck // the next time
				j.ID, []float64{done, of})
		}
	})
	if err != nil || out == nil {
		return err
	}
	return river.RecordOutput(ctx, out)
}

// retry tries a part again after 1, 2, 4 … seconds.
type retry struct{}

// NextRetry is when.
func (retry) NextRetry(j *rivertype.JobRow) time.Time {
	return time.Now().Add(time.Second << min(len(j.Errors), 6))
}

// Open opens the parts in the database of a shop that is there, and makes River's
// tables where they are not (see Options.Seldom). With slots it begins to do parts; see Close.
func Open(ctx context.Context, address string, opt Options) (*Parts, error) {
	fail := func(err error) error {
		return &shop.Error{Code: shop.Storage, Text: "the database of the shop's work does not do as it should; its server's log says why", Err: err}
	}
	if opt.Longest == 0 {
		opt.Longest = 2 * time.Minute
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	c, err := pgxpool.ParseConfig(address)
	if err != nil {
		return nil, fail(err)
	}
	if opt.Seldom {
		c.MaxConns, c.MaxConnIdleTime = 2, 10*time.Second
	}
	pool, err := pgxpool.NewWithConfig(ctx, c)
	if err != nil {
		return nil, fail(err)
	}
	p := &Parts{opt: opt, pool: pool, shown: func() {}, idle: func() {}}
	driver := riverpgxv5.New(pool)
	if !opt.Seldom {
		err = pgx.BeginFunc(ctx, pool, func(t pgx.Tx) error {
			if _, err := t.Exec(ctx, "SELECT pg_advisory_xact_lock(hashtext(coalesce(current_schema(), '')), 3)"); err != nil {
				return err
			}
			m, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: opt.Log})
			if err == nil {
				_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil) // in its own transactions; the lock keeps others waiting
			}
			return err
		})
	}
	if err != nil {
		pool.Close()
		return nil, fail(err)
	}
	id := shop.NewID()
	cfg := &river.Config{ID: id, Logger: opt.Log, MaxAttempts: tries, JobTimeout: opt.Longest, RescueStuckJobsAfter: 2 * opt.Longest, RetryPolicy: retry{},
		CompletedJobRetentionPeriod: 7 * 24 * time.Hour}
	queues := map[string]river.QueueConfig{}
	if opt.Slots > 0 {
		queues[queue(opt.Build)] = river.QueueConfig{MaxWorkers: opt.Slots, FetchCooldown: 5 * time.Millisecond}
	}
	do := maps.Clone(opt.Do)
	for _, r := range opt.Rounds {
		if do == nil {
			do = map[string]Do{}
		}
		do[roundOf(r)] = func(ctx context.Context, _ json.RawMessage, _ func(done, of float64)) (any, error) {
			return nil, r.Do(ctx)
		}
		queues[roundQueue(r)] = river.QueueConfig{MaxWorkers: 1, FetchPollInterval: lookForRounds}
	}
	if len(queues) > 0 {
		cfg.Workers, cfg.Queues = river.NewWorkers(), queues
		river.AddWorker(cfg.Workers, &worker{do: do, pool: pool})
		if p.shown, err = p.show(ctx, id, slices.Sorted(maps.Keys(queues))); err != nil {
			pool.Close()
			return nil, fail(err)
		}
	}
	if p.client, err = river.NewClient(driver, cfg); err == nil && len(queues) > 0 {
		err = p.client.Start(context.WithoutCancel(ctx))
	}
	if err != nil {
		p.shown()
		pool.Close()
		return nil, fail(err)
	}
	if len(opt.Rounds) > 0 {
		p.idle = jobs.Regularly(opt.Log, p.putUp, opt.Rounds...)
	}
	return p, nil
}

// queue is that of a build's programs.
func queue(build string) string { return "build_" + build[:min(len(build), 24)] }

// Close lets parts under way come to their end while ctx lasts, then stops them:
// others do them again.
func (p *Parts) Close(ctx context.Context) error {
	defer p.pool.Close()
	defer p.shown()
	p.idle()
	if p.opt.Slots == 0 && len(p.opt.Rounds) == 0 {
		return nil
	}
	if err := p.client.Stop(ctx); err == nil {
		return nil
	}
	return p.client.StopAndCancel(context.WithoutCancel(ctx))
}

// Begin keeps work of many parts, all or none, and gives its ID. longest is how long each
// may take; 0: Options.Longest.
func Begin[T any](ctx context.Context, p *Parts, what string, longest time.Duration, all []T) (id string, err error) {
	id = shop.NewID()
	meta, err := json.Marshal(map[string]string{"work": id})
	if err != nil {
		return "", err
	}
	var in []river.InsertManyParams
	for _, part := range all {
		b, err := json.Marshal(part)
		if err != nil {
			return "", err
		}
		in = append(in, river.InsertManyParams{Args: args{id, what, b, longest},
			InsertOpts: &river.InsertOpts{Queue: queue(p.opt.Build), Metadata: meta, MaxAttempts: tries}})
	}
	if len(in) > 0 {
		_, err = p.client.InsertMany(ctx, in)
	}
	return id, err
}

// Look tells where work stands: its share done, how many parts were tried again, and
// what went wrong with one that was given up.
func (p *Parts) Look(ctx context.Context, id string) (jobs.Work, error) {
	w, _, err := p.look(ctx, id)
	return w, err
}

// look is Look, with how far it is: of one part what that told, of several how many are done
// of how many.
func (p *Parts) look(ctx context.Context, id string) (w jobs.Work, told [2]float64, err error) {
	w = jobs.Work{ID: id, State: jobs.Waiting}
	var all, done, running, failed, cancelled, again int
	var why string
	err = p.pool.QueryRow(ctx, `SELECT count(*), count(*) FILTER (WHERE state = 'completed'), count(*) FILTER (WHERE state = 'running'),
		count(*) FILTER (WHERE state = 'discarded'), count(*) FILTER (WHERE state = 'cancelled'), count(*) FILTER (WHERE attempt > 1),
		coalesce(max(args ->> 'what'), ''), coalesce(max(errors[array_upper(errors, 1)] ->> 'error') FILTER (WHERE state IN ('discarded', 'cancelled')
			AND NOT metadata ? 'cancel_attempted_at'), ''),
		coalesce(extract(epoch FROM coalesce(max(finalized_at), now()) - min(created_at)), 0),
		coalesce(max((metadata #>> '{told,0}')::float8), 0), coalesce(max((metadata #>> '{told,1}')::float8), 0)
		FROM river_job WHERE metadata @> jsonb_build_object('work', $1::text)`, id).
		Scan(&all, &done, &running, &failed, &cancelled, &again, &w.Kind, &why, &w.Seconds, &told[0], &told[1])
	if err != nil {
		return w, told, &shop.Error{Code: shop.Storage, Text: "where the work stands cannot be read; try again", Err: err}
	}
	if all == 0 {
		return w, told, shop.Errorf(shop.NotFound, "this work is not known (any more)")
	}
	if all > 1 {
		told = [2]float64{float64(done), float64(all)}
	}
	w.Progress = float64(done) / float64(all)
	w.Text = fmt.Sprintf("%d of %d parts done, %d under way, %d tried again", done, all, running, again)
	switch {
	case done == all:
		w.State = jobs.Done
	case done+failed+cancelled == all && failed > 0:
		w.State, w.Error = jobs.Failed, &jobs.FailureBody{Code: "internal", Text: fmt.Sprintf("%d parts were given up after %d tries: %s", failed, tries, why)}
	case done+failed+cancelled == all && why != "":
		w.State, w.Error = jobs.Failed, &jobs.FailureBody{Code: "internal", Text: why}
	case done+failed+cancelled == all:
		w.State, w.Error = jobs.Cancel, &jobs.FailureBody{Code: string(shop.Stopped), Text: "it was cancelled"}
	case done+running > 0:
		w.State = jobs.Running
	}
	return w, told, nil
}

// Outputs are what came of the parts of work that are done, in the order in which they
// were put up; parts of which nothing came are left out.
func (p *Parts) Outputs(ctx context.Context, id string) ([]json.RawMessage, error) {
	rows, err := p.pool.Query(ctx, `SELECT metadata -> 'output' FROM river_job WHERE metadata @> jsonb_build_object('work', $1::text)
		AND state = 'completed' AND metadata ? 'output' ORDER BY id`, id)
	var all []json.RawMessage
	if err == nil {
		all, err = pgx.CollectRows(rows, pgx.RowTo[json.RawMessage])
	}
	if err != nil {
		return nil, &shop.Error{Code: shop.Storage, Text: "what came of the work cannot be read; try again", Err: err}
	}
	return all, nil
}

// Stop cancels what of the work is not done.
func (p *Parts) Stop(ctx context.Context, id string) error {
	if _, err := p.Look(ctx, id); err != nil {
		return err
	}
	rows, err := p.pool.Query(ctx, `SELECT id FROM river_job WHERE metadata @> jsonb_build_object('work', $1::text) AND finalized_at IS NULL`, id)
	if err != nil {
		return &shop.Error{Code: shop.Storage, Text: "the work cannot be stopped; try again", Err: err}
	}
	ids, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return &shop.Error{Code: shop.Storage, Text: "the work cannot be stopped; try again", Err: err}
	}
	for _, n := range ids {
		if _, err := p.client.JobCancel(ctx, n); err != nil {
			return &shop.Error{Code: shop.Storage, Text: "the work cannot be stopped; try again", Err: err}
		}
	}
	return nil
}
