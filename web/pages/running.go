package pages

import (
	"runtime"
	"strconv"

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
	p := &page{Title: words.Say("running.title").Text(w), Nav: "settings", Data: data}
	if len(s.Slow) > 0 {
		p.addTable(slowTable(s.Slow, from, w))
	}
	return c.show("running.html", p)
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
