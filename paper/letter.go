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
	d := &Document{Shop: shop, Number: l.Design, Made: made, W: by}
	d.Kind, d.Title = d.Say("letter.kind"), d.Say("letter.title", words.Args{"design": words.Name(l.Design)})
	d.Foot = d.Say("letter.foot", words.Args{"design": words.Name(l.Design), "day": words.NewDay(made.Date())})
	d.Add(Heading{Text: d.Title})
	d.unchecked(d.Say("paper.unchecked"))
	letterBody(d, l, true)
	return d
}

// letterBody is the letter under its head.
func letterBody(d *Document, l *ask.Letter, alone bool) {
	by := d.W
	file := path.Base(strings.ReplaceAll(l.File, `\`, "/"))
	if l.Label != "" {
		file = d.Say("letter.file-label", words.Args{"file": words.Name(file), "label": words.Name(l.Label)})
	}
	facts := Facts{{d.Say("letter.to"), l.Terms.To}, {d.Say("letter.file"), file},
		{d.Say("letter.size"), d.Say("letter.stitched", words.Args{"stitches": words.Count(l.Stitches, "stitch"),
			"blocks": words.Count(l.Blocks, "colour-block")})},
		{d.Say("letter.machine"), ask.MachineName(l.On).Text(by)}}
	pieces, worth := d.Say("letter.order"), d.Say("letter.worth")
	if l.Terms.Year {
		pieces, worth = d.Say("letter.year"), d.Say("letter.worth-year")
	}
	if l.Pieces > 1 {
		facts = append(facts, [2]string{pieces, d.Say("letter.order-of", words.Args{"pieces": words.Count(l.Pieces, "piece"),
			"runs": words.Count(l.Runs, "run")})})
	}
	d.Add(facts)
	d.Text(l.Greeting.Text(by), l.Opening.Text(by))
	if len(l.Points) > 0 {
		figures := Figures{{d.Say("letter.takes"), words.Seconds(l.Seconds).Text(by), d.Say("letter.a-run")},
			{d.Say("letter.may-save"), orNone(l.Total).Text(by), d.Say("letter.a-run")}}
		last := Figure{d.Say("letter.points"), words.Whole(len(l.Points)).Text(by), d.Say("letter.numbered")}
		if w := l.Worth(); w != nil {
			last = Figure{worth, w.Text(by), d.Say("letter.hour", words.Args{
				"hour": words.Money{Amount: l.Terms.Hour, Code: l.Terms.Currency}})}
		}
		d.Add(append(figures, last))
		marked := picture.FindingsOf(l.AuditAnswer, by)
		marked.Bare = true
		d.Add(Drawing{Pic: marked, Caption: d.Say("letter.drawing"), High: 0.36})
	}
	if l.Since != nil {
		sinceOf(d, l)
	}
	if len(l.Points) > 0 {
		d.Add(Heading{Text: d.Say("letter.please"), Level: 2})
	}
	for _, p := range l.Points {
		it := Item{Number: p.Number, Text: words.Sentence(p.What.Text(by)), Facts: [][2]string{
			{d.Say("letter.where"), p.Place().Text(by)}, {d.Say("letter.why-it-matters"), p.Why.Text(by)},
			{d.Say("letter.asked"), words.Sentence(p.Please.Text(by))}}}
		if p.Seconds > 0 {
			it.Right = p.Cost().Text(by)
		}
		if p.Severity == audit.Hurts {
			it.Facts = append(it.Facts, [2]string{d.Say("letter.first"), d.Say("letter.hurts")})
		}
		switch {
		case p.Worth != nil:
			it.Facts = append(it.Facts, [2]string{pieces, d.Say("letter.order-worth", words.Args{
				"time": p.OrderCost(), "worth": p.Worth})})
		case l.Pieces > 1 && p.OrderSeconds > 0:
			it.Facts = append(it.Facts, [2]string{pieces, p.OrderCost().Text(by)})
		}
		d.Add(it)
	}
	d.Text(l.Closing.Text(by), strings.TrimSpace(d.Say("letter.regards")+"\n"+l.Terms.From)) // on one page
	if len(l.Points) > 0 {
		d.Add(Paragraph{Text: d.Say("letter.reckoned"), Quiet: true})
		replyOf(d, l, alone)
	}
}

// sinceOf is what became of the points of an earlier version.
func sinceOf(d *Document, l *ask.Letter) {
	s := l.Since
	d.Add(Heading{Text: d.Say("letter.since", words.Args{"design": words.Name(s.Design)}), Level: 2})
	d.Text(s.Verdict.Text(d.W))
	if len(s.Points) == 0 {
		return
	}
	g := Grid{Columns: []GridColumn{{Head: d.Say("letter.point"), Share: 0.08, Right: true},
		{Head: d.Say("clock.what"), Share: 0.48, Wraps: true}, {Head: d.Say("letter.now"), Share: 0.24},
		{Head: d.Say("letter.won-run"), Share: 0.18, Right: true}}}
	for i, p := range s.Points {
		if i == ask.MostPoints {
			break
		}
		now := p.State.Text(d.W)
		switch {
		case p.Now > 0 && p.Places > 1:
			now = d.Say("letter.state-places", words.Args{"state": p.State, "left": words.Whole(p.Left),
				"places": words.Whole(p.Places), "n": words.Whole(p.Now)})
		case p.Now > 0:
			now = d.Say("letter.state-now", words.Args{"state": p.State, "n": words.Whole(p.Now)})
		}
		g.Rows = append(g.Rows, []string{words.Whole(p.Number).Text(d.W), words.Sentence(p.What.Text(d.W)), now, orNone(p.Won).Text(d.W)})
	}
	d.Add(g)
}

// replyOf is the sheet that comes back.
func replyOf(d *Document, l *ask.Letter, alone bool) {
	level := 2
	if alone {
		level = 1
	}
	// The sheet is photographed, so that it stands on one page.
	d.Add(Heading{Text: d.Say("letter.reply"), Level: level, Anew: alone, Room: 130 + 42*float64(len(l.Points))})
	d.Text(d.Say("letter.reply-how", words.Args{"design": words.Name(l.Design)}))
	g := Grid{Columns: []GridColumn{{Head: d.Say("letter.point"), Share: 0.07, Right: true},
		{Head: d.Say("clock.what"), Share: 0.41, Wraps: true}, {Head: d.Say("letter.done"), Share: 0.1, Boxes: true},
		{Head: d.Say("letter.stays"), Share: 0.1, Boxes: true}, {Head: d.Say("letter.because"), Share: 0.3}}}
	for _, p := range l.Points {
		what := words.Sentence(p.What.Text(d.W)) + "\n" // a line more to write on
		g.Rows = append(g.Rows, []string{words.Whole(p.Number).Text(d.W), what, "", "", ""})
	}
	d.Add(g, Blanks{d.Say("letter.new-file"), d.Say("letter.who"), d.Say("letter.day")})
}

// orNone is a time, or a dash for none worth telling.
func orNone(seconds float64) words.Value {
	if seconds > -0.05 && seconds < 0.05 {
		return words.None{}
	}
	return words.Seconds(seconds)
}
