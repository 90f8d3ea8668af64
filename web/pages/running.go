package pages

import (
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/web/watch"
	"needlepace/words"
)

// runningData is what the page "How it runs" shows.
type runningData struct {
	Verdict words.Message
	More    []words.Message
}

// showRunning shows what the program answered since it began, and what took long.
func showRunning(c *call) error {
	w, s := c.writer(), c.Watch.State()
	since, from := words.Moment{Time: c.Watch.Since}, words.Fixed(c.Watch.SlowFrom.Seconds(), 1)
	data := &runningData{Verdict: words.Say("running.well", words.Args{"n": words.Whole(s.Total), "since": since})}
	if s.Failed > 0 {
		data.Verdict = words.Say("running.failed", words.Args{"n": words.Whole(s.Total), "since": since,
			"failed": words.Count(s.Failed, "request")})
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	data.More = append(data.More, words.Say("running.is", words.Args{"version": words.Name(c.Watch.Version),
		"go": words.Name(runtime.Version()), "memory": words.Whole(int(m.Sys >> 20))}))
	if len(s.Slow) == 0 {
		data.More = append(data.More, words.Say("running.none-slow", words.Args{"from": from}))
	}
	apart, err := data.feed(c)
	if err != nil {
		return err
	}
	rounds, err := c.Shop.RoundStates(c.Ctx)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(rounds, func(r act.RoundState) bool { return r.Name == shop.RoundCopies }) { // else the table says it
		data.copies(c)
	}
	p := &page{Title: words.Say("running.title").Text(w), Nav: "settings", Data: data}
	p.addTable(roundsTable(rounds, c.Now(), w))
	if len(s.Slow) > 0 {
		p.addTable(slowTable(s.Slow, from, w))
	}
	if len(apart) > 0 {
		p.addTable(apartTable(apart, w))
	}
	return c.show("running.html", p)
}

// roundsTable is what the program does by itself.
func roundsTable(all []act.RoundState, now time.Time, w *words.Writer) *table {
	say := func(key string) string { return words.Say("rounds." + key).Text(w) }
	t := &table{ID: "rounds", Caption: say("title"), Cols: cols(say("what")+"=what", "#"+say("last")+"=last", say("outcome")+"=outcome", "#"+say("next")+"=next")}
	for _, r := range all {
		what := words.Say("rounds.drift")
		switch {
		case r.Name == shop.RoundPlan:
			what = words.Say("rounds.plan")
		case r.Name == shop.RoundCopies:
			what = words.Say("rounds.copies-to", words.Args{"place": words.Name(r.Place)})
		}
		last, next := figure(say("never"), ""), figure(say("off"), "")
		if !r.Ended.IsZero() {
			at := words.Moment{Time: r.Ended}
			last = figure(at.Text(w), at.Raw())
		}
		switch {
		case r.Other:
			next = figure(say("others"), "")
		case !r.Next.IsZero() && !r.Next.After(now):
			next = figure(say("due"), words.Moment{Time: now}.Raw())
		case !r.Next.IsZero():
			at := words.Moment{Time: r.Next}
			next = figure(at.Text(w), at.Raw())
		}
		said := words.Sentences{}
		if r.Failed != "" {
			said = append(said, words.Say("rounds.failed", words.Args{"why": words.Name(r.Failed)}))
		}
		if !r.Said.IsZero() {
			said = append(said, r.Said.Message)
		}
		if r.Name == shop.RoundDrift {
			for _, f := range r.Found {
				said = append(said, f.Say.Message)
			}
		}
		t.row(text(what.Text(w)), last, text(said.Text(w)), next)
	}
	t.cards()
	return t
}

func slowTable(all []watch.Slow, from words.Value, w *words.Writer) *table {
	say := func(key string) string { return words.Say("running." + key).Text(w) }
	t := &table{ID: "slow", Caption: words.Say("running.slow", words.Args{"from": from}).Text(w),
		Cols: cols(say("what-asked")+"=path", "#"+say("took")+"=seconds", say("when")+"=began", "#"+say("status")+"=status", say("number")+"=request")}
	for _, q := range all {
		began, took := words.Moment{Time: q.Began}, words.Fixed(q.Took.Seconds(), 1)
		t.row(text(q.Method+" "+q.Path), figure(took.Text(w)+" s", took.Raw()), figure(began.Text(w), began.Raw()),
			cell{Text: strconv.Itoa(q.Status)}, text(q.ID))
	}
	t.cards()
	return t
}

// copies says how it goes with the shop's copies, where the program makes them.
func (d *runningData) copies(c *call) {
	if c.Copies == nil {
		return
	}
	s := c.Copies.State()
	next := words.Moment{Time: s.Next}
	if s.Why != "" {
		d.More = append(d.More, words.Say("running.copy-failed", words.Args{"why": words.Name(s.Why), "next": next}))
	}
	if s.File == "" {
		d.More = append(d.More, words.Say("running.copy-none", words.Args{"next": next}))
		return
	}
	d.More = append(d.More, words.Say("running.copied", words.Args{"at": words.Moment{Time: s.At}, "mb": words.Fixed(float64(s.Bytes)/1e6, 1),
		"file": words.Name(filepath.Base(s.File)), "next": next}))
}

// apartOnPage is how many messages of machines that could not be used are shown.
const apartOnPage = 50

// feed says how it goes with what machines tell, and gives what could not be used.
func (d *runningData) feed(c *call) ([]shop.ToldApart, error) {
	apart, n, err := c.Shop.Apart(c.Ctx, apartOnPage)
	if err != nil || c.Feed == nil && n == 0 {
		return nil, err
	}
	if c.Feed != nil {
		s := c.Feed.State()
		since := words.Moment{Time: s.Since}
		if s.Up {
			d.More = append(d.More, words.Say("running.feed-up", words.Args{"since": since, "n": words.Count(s.Taken, "message")}))
		} else {
			d.More = append(d.More, words.Say("running.feed-down", words.Args{"since": since, "why": words.Name(s.Why)}))
		}
	}
	if n > 0 {
		d.More = append(d.More, words.Say("running.feed-apart", words.Args{"n": words.Count(n, "message")}))
	}
	return apart, nil
}

func apartTable(all []shop.ToldApart, w *words.Writer) *table {
	say := func(key string) string { return words.Say("running." + key).Text(w) }
	t := &table{ID: "apart", Caption: say("apart"),
		Cols: cols(say("apart-why")+"=why", say("apart-topic")+"=topic", say("apart-message")+"=message", "#"+say("when")+"=got", "#"+say("apart-times")+"=times")}
	for _, m := range all {
		got, times := words.Moment{Time: m.Got}, words.Whole(m.Times)
		t.row(text(m.Why), text(m.Topic), text(beginning(m.Payload)),
			figure(got.Text(w), got.Raw()), figure(times.Text(w), times.Raw()))
	}
	t.cards()
	return t
}

// beginning is as much of a message as a table shows.
func beginning(b []byte) string {
	s := []rune(strings.ToValidUTF8(string(b[:min(len(b), 800)]), "\uFFFD"))
	if len(s) > 200 {
		return string(s[:200]) + "…"
	}
	return string(s)
}
