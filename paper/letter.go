package paper

import (
	"path"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/audit"
	"needlepace/picture"
	"needlepace/words"
)

// LetterOf lays a letter to a digitizer out, made on the day of made: numbered places
// on the drawing, what, why and what is asked for at each, what became of an earlier
// version's, and a sheet to reply on.
func LetterOf(l *ask.Letter, shop Shop, made time.Time, by *words.Writer) *Document {
	say := func(key string, args ...words.Args) string { return words.Say(key, args...).Text(by) }
	design := words.Args{"design": words.Name(l.Design)}
	d := &Document{Shop: shop, Kind: say("letter.kind"), Number: l.Design, Title: say("letter.title", design), Made: made, W: by,
		Foot: say("letter.foot", words.Args{"design": words.Name(l.Design), "day": words.NewDay(made.Date())})}
	file := path.Base(strings.ReplaceAll(l.File, `\`, "/"))
	if l.Label != "" {
		file = say("letter.file-label", words.Args{"file": words.Name(file), "label": words.Name(l.Label)})
	}
	d.Add(Heading{Text: say("letter.title", design)})
	facts := Facts{{say("letter.to"), l.Terms.To}, {say("letter.file"), file},
		{say("letter.size"), say("letter.stitched", words.Args{"stitches": words.Count(l.Stitches, "stitch"),
			"blocks": words.Count(l.Blocks, "colour-block")})},
		{say("letter.machine"), ask.MachineName(l.On).Text(by)}}
	if l.Pieces > 1 {
		facts = append(facts, [2]string{say("letter.order"), say("letter.order-of", words.Args{"pieces": words.Count(l.Pieces, "piece"),
			"runs": words.Count(l.Runs, "run")})})
	}
	d.Add(facts)
	d.Say(l.Greeting.Text(by), l.Opening.Text(by))
	if len(l.Points) > 0 {
		figures := Figures{{say("letter.takes"), words.Seconds(l.Seconds).Text(by), say("letter.a-run")},
			{say("letter.may-save"), orNone(l.Total).Text(by), say("letter.a-run")}}
		last := Figure{say("letter.points"), words.Whole(len(l.Points)).Text(by), say("letter.numbered")}
		if w := l.Worth(); w != nil {
			last = Figure{say("letter.worth"), w.Text(by), say("letter.hour", words.Args{
				"hour": words.Money{Amount: l.Terms.Hour, Code: l.Terms.Currency}})}
		}
		d.Add(append(figures, last))
		marked := picture.FindingsOf(l.AuditAnswer, by)
		marked.Bare = true
		d.Add(Drawing{Pic: marked, Caption: say("letter.drawing"), High: 0.36})
	}
	if l.Since != nil {
		sinceOf(d, l, say)
	}
	if len(l.Points) > 0 {
		d.Add(Heading{Text: say("letter.please"), Level: 2})
	}
	for _, p := range l.Points {
		it := Item{Number: p.Number, Text: words.Sentence(p.What.Text(by)), Facts: [][2]string{
			{say("letter.where"), p.Place().Text(by)}, {say("letter.why-it-matters"), p.Why.Text(by)},
			{say("letter.asked"), words.Sentence(p.Please.Text(by))}}}
		if p.Seconds > 0 {
			it.Right = p.Cost().Text(by)
		}
		if p.Severity == audit.Hurts {
			it.Facts = append(it.Facts, [2]string{say("letter.first"), say("letter.hurts")})
		}
		switch {
		case p.Worth != nil:
			it.Facts = append(it.Facts, [2]string{say("letter.order"), say("letter.order-worth", words.Args{
				"time": p.OrderCost(), "worth": p.Worth})})
		case l.Pieces > 1 && p.OrderSeconds > 0:
			it.Facts = append(it.Facts, [2]string{say("letter.order"), p.OrderCost().Text(by)})
		}
		d.Add(it)
	}
	d.Say(l.Closing.Text(by), say("letter.regards"), l.Terms.From)
	d.Add(Paragraph{Text: say("letter.reckoned"), Quiet: true})
	if len(l.Points) > 0 {
		replyOf(d, l, say)
	}
	return d
}

// sinceOf is what became of the points of an earlier version.
func sinceOf(d *Document, l *ask.Letter, say func(string, ...words.Args) string) {
	s := l.Since
	d.Add(Heading{Text: say("letter.since", words.Args{"design": words.Name(s.Design)}), Level: 2})
	d.Say(s.Verdict.Text(d.W))
	if len(s.Points) == 0 {
		return
	}
	g := Grid{Columns: []GridColumn{{Head: say("letter.point"), Share: 0.08, Right: true}, {Share: 0.02},
		{Head: say("clock.what"), Share: 0.48, Wraps: true}, {Head: say("letter.now"), Share: 0.24},
		{Head: say("letter.won-run"), Share: 0.18, Right: true}}}
	for i, p := range s.Points {
		if i == ask.MostPoints {
			break
		}
		now := p.State.Text(d.W)
		switch {
		case p.Now > 0 && p.Places > 1:
			now = say("letter.state-places", words.Args{"state": p.State, "left": words.Whole(p.Left),
				"places": words.Whole(p.Places), "n": words.Whole(p.Now)})
		case p.Now > 0:
			now = say("letter.state-now", words.Args{"state": p.State, "n": words.Whole(p.Now)})
		}
		g.Rows = append(g.Rows, []string{words.Whole(p.Number).Text(d.W), "", words.Sentence(p.What.Text(d.W)), now, orNone(p.Won).Text(d.W)})
	}
	d.Add(g)
}

// replyOf is the sheet that comes back.
func replyOf(d *Document, l *ask.Letter, say func(string, ...words.Args) string) {
	d.Add(Heading{Text: say("letter.reply"), Anew: true})
	d.Say(say("letter.reply-how", words.Args{"design": words.Name(l.Design)}))
	g := Grid{Columns: []GridColumn{{Head: say("letter.point"), Share: 0.07, Right: true}, {Share: 0.02},
		{Head: say("clock.what"), Share: 0.41, Wraps: true}, {Head: say("letter.done"), Share: 0.1, Boxes: true},
		{Head: say("letter.stays"), Share: 0.1, Boxes: true}, {Head: say("letter.because"), Share: 0.3}}}
	for _, p := range l.Points {
		what := words.Sentence(p.What.Text(d.W)) + "\n" // a line more to write on
		g.Rows = append(g.Rows, []string{words.Whole(p.Number).Text(d.W), "", what, "", "", ""})
	}
	d.Add(g, Blanks{say("letter.new-file"), say("letter.by"), say("letter.day")})
}

// orNone is a time, or a dash for none worth telling.
func orNone(seconds float64) words.Value {
	if seconds > -0.05 && seconds < 0.05 {
		return words.None{}
	}
	return words.Seconds(seconds)
}
