package paper

import (
	"io"
	"strconv"
	"time"

	"needlepace/book"
	"needlepace/picture"
	"needlepace/words"
)

// RunSheet is what the floor works by: one lot on one machine.
type RunSheet struct {
	Shop    Shop
	Number  string // order and lot
	Made    time.Time
	W       *words.Writer // how the floor wants figures and sentences
	Title   string        // customer and design, in a line
	Facts   [][2]string   // order, garment, placement, hoop, due, …
	Machine string

	Pieces, Runs, Heads int     // pieces of the lot, machine runs, heads used
	LotSeconds          float64 // the whole lot with loading and the floor's losses
	RunSeconds          float64 // one run by the clock
	Low, High, Level    float64 // interval of RunSeconds; Level 0.9 is 90 %, 0: none
	SetSpeed            float64 // stitches/min: to set on the machine (the knee)
	RatedSpeed          float64 // stitches/min
	SpeedNote           string  // why this speed, in a few words

	Drawing  picture.Picture // nil: none
	Strip    picture.Picture // where a run's seconds go; nil: none
	Colours  []RunColour
	Changes  []string  // when to change what: bobbins, cones, …
	Cautions []string  // nil: book.Cautions
	Names    []RunName // the pieces one by one, where they have names
	Link     string    // address that opens the page to record the run; "": no code
	Reach    string    // why a phone cannot open it; "": it can
}

// RunColour is one colour block in sewing order.
type RunColour struct {
	Needle   int // from 1
	Thread   string
	Colour   picture.RGB
	Change   string // "put on", "stays", "re-thread by hand"
	Stitches int
	Seconds  float64 // of this block
	From     float64 // s into the run when it begins
}

// RunName is a piece with a name, to be ticked when it is sewn.
type RunName struct {
	Name    string
	Garment string // its colour and size, may be empty
	File    string
	Run     int
	Head    int
	Seconds float64
}

// How a run sheet is set: roomy, tighter, without what the floor can do without, or as a
// pair of pages, the second one for the colours.
const (
	roomy = iota
	tight
	tightest
	pair
)

// PDF writes the run sheet, on one page if it can be; else as a pair: all that is
// done once on the first page, with cautions and the record, the colours on the second.
func (r *RunSheet) PDF(w io.Writer, size Size) error {
	var p *page
	for _, how := range []int{roomy, tight, tightest, pair} {
		var err error
		if p, err = r.lay(size, how); err != nil {
			return err
		}
		if p.front == 1 {
			break
		}
	}
	return p.write(w)
}

func (r *RunSheet) lay(size Size, how int) (*page, error) {
	p := newPage(size, words.Say("runsheet.title", words.Args{"name": words.Name(r.Number)}).Text(r.W),
		r.Shop.foot(words.Say("runsheet.foot", words.Args{
			"shop": words.Name(r.Shop.Name), "name": words.Name(r.Number), "day": words.NewDay(r.Made.Date()),
		}).Text(r.W)), r.Made, r.W)
	drawH, stripH := 150.0, 160.0
	switch how {
	case tight:
		p.tight, drawH, stripH = true, 112, 68
	case tightest:
		p.tight, p.dense, drawH, stripH = true, true, 84, 0
	}
	if err := p.masthead(&r.Shop, words.Say("runsheet.kind").Text(r.W), r.Number); err != nil {
		return nil, err
	}
	// The code stands beside title and answers: where the thumb holds the sheet.
	side := 92.0
	if how == tightest {
		side = 78 // 27 mm: still read from a hand's length
	}
	top, w0 := p.y, p.width()
	if r.Link != "" {
		w0 -= side + 8
		// Its quiet zone is part of it: out, so that its dark edge is on the margin.
		if err := p.code(r.Link, p.w-margin-side+8, top-10, side); err != nil {
			return nil, err
		}
		if r.Reach == "" {
			p.right(p.w-margin, top-10+side+2, words.Say("runsheet.scan").Text(r.W), small-1, false, quiet)
		}
	}
	for _, l := range p.wrap(r.Title, w0, head, true) {
		p.text(margin, p.y+head, l, head, true, black)
		p.y += head * 1.3
	}
	p.text(margin, p.y+normal+1, p.fit(words.Say("runsheet.on", words.Args{"machine": words.Name(r.Machine)}).Text(r.W), w0, normal+1, true), normal+1, true, black)
	p.y += normal + 8
	r.answers(p, w0)
	if r.Link != "" {
		p.y = max(p.y, top+side)
	}
	if r.Link != "" && r.Reach != "" {
		p.paragraph(margin, p.width(), r.Reach, small, false, quiet)
		p.y += 3
	}
	p.rule(p.y, hair)
	p.y += 10

	top = p.y
	x, h := margin, 0.0
	if r.Drawing != nil {
		var w float64
		w, h = p.picture(r.Drawing, margin, top, p.width()*0.46, drawH)
		x += w + 16
	}
	p.y = max(top+h, p.facts(x, top, p.w-margin-x, r.Facts)) + 2

	if r.Strip != nil && stripH > 0 {
		_, sh := r.Strip.Size()
		sw, _ := r.Strip.Size()
		need := sh * p.width() / max(sw, 1)
		p.need(min(need, stripH) + 24)
		p.heading(words.Say("runsheet.where").Text(r.W))
		_, uh := p.picture(r.Strip, margin, p.y-8, p.width(), stripH)
		p.y += uh - 16
	}
	if how == pair {
		p.paragraph(margin, p.width(), words.Say("runsheet.colours-behind").Text(r.W), normal, false, black)
	} else {
		r.colours(p)
	}
	if len(r.Names) > 0 {
		p.paragraph(margin, p.width(), words.Say("runsheet.names-behind").Text(r.W), normal, false, black)
	}
	if len(r.Changes) > 0 {
		p.heading(words.Say("runsheet.when-to-change").Text(r.W))
		for _, c := range r.Changes {
			r.bullet(p, c, margin, p.width())
		}
	}
	cautions := r.Cautions
	if cautions == nil {
		for _, c := range book.Cautions() {
			cautions = append(cautions, c.Text(r.W))
		}
	}
	r.cautions(p, cautions, how == tightest)
	r.byHand(p)
	if how == pair {
		p.add()
		p.dense = len(r.Colours) > 30
		r.colours(p)
	}
	p.front = p.f.PageNo()
	r.names(p)
	return p, nil
}

// names are the pieces one by one, on a page of their own behind the sheet.
func (r *RunSheet) names(p *page) {
	if len(r.Names) == 0 {
		return
	}
	p.add()
	p.dense = len(r.Names) > 25
	p.heading(words.Say("runsheet.names", words.Args{"names": words.Count(len(r.Names), "name")}).Text(r.W))
	var rows [][]string
	for i, n := range r.Names {
		rows = append(rows, []string{"", strconv.Itoa(i + 1), n.Name, n.Garment, n.File, strconv.Itoa(n.Run), strconv.Itoa(n.Head),
			words.Clock(n.Seconds).Text(r.W)})
	}
	p.table(table{
		cols: []column{{head: "", width: 0.05}, {head: words.Say("runsheet.piece").Text(r.W), width: 0.07},
			{head: words.Say("runsheet.name").Text(r.W), width: 0.27, bold: true},
			{head: words.Say("runsheet.garment-colour").Text(r.W), width: 0.18},
			{head: words.Say("runsheet.file").Text(r.W), width: 0.21},
			{head: words.Say("runsheet.in-run").Text(r.W), width: 0.06, right: true},
			{head: words.Say("runsheet.on-head").Text(r.W), width: 0.07, right: true},
			{head: words.Say("runsheet.takes").Text(r.W), width: 0.09, right: true}},
		wrap: 2,
		mark: func(_ int, x []float64, y float64) {
			p.f.SetDrawColor(black, black, black)
			p.f.SetLineWidth(0.7)
			p.f.Rect(x[0]+1, y-8, 9, 9, "D")
		},
	}, rows)
}

// cautions stand together, under their heading; beside each other where room is short.
func (r *RunSheet) cautions(p *page, all []string, beside bool) {
	columns := 1
	if beside {
		columns = 2
	}
	const gap = 14.0
	w := (p.width() - gap*float64(columns-1)) / float64(columns)
	height := func(some []string) (h float64) {
		for _, c := range some {
			h += r.bulletHeight(p, c, w)
		}
		return h
	}
	half := len(all)
	if beside {
		for half = 0; half < len(all) && height(all[:half+1]) <= height(all[half:]); half++ {
		}
	}
	p.need(min(40+max(height(all[:half]), height(all[half:])), p.h/2))
	p.heading(words.Say("runsheet.cautions").Text(r.W))
	top := p.y
	for _, c := range all[:half] {
		r.bullet(p, c, margin, w)
	}
	low := p.y
	for p.y = top; half < len(all); half++ {
		r.bullet(p, all[half], margin+w+gap, w)
	}
	p.y = max(low, p.y)
}

// answers are the three numbers a run is set up by.
func (r *RunSheet) answers(p *page, width float64) {
	type answer struct{ what, big, note string }
	pieces := words.Count(r.Pieces, "piece").Text(r.W)
	if r.Runs > 0 {
		pieces = words.Say("runsheet.lot", words.Args{
			"pieces": words.Count(r.Pieces, "piece"), "runs": words.Count(r.Runs, "run"),
			"heads": words.Count(r.Heads, "head"),
		}).Text(r.W)
	}
	interval := ""
	if r.Level > 0 && r.High > r.Low {
		interval = words.Say("picture.interval", words.Args{
			"level": words.Level(r.Level), "low": words.Clock(r.Low), "high": words.Clock(r.High),
		}).Text(r.W)
	}
	speed := r.SpeedNote
	if r.RatedSpeed > 0 {
		rated := words.PerMinute(r.RatedSpeed)
		if speed == "" {
			speed = words.Say("runsheet.rated", words.Args{"rated": rated}).Text(r.W)
		} else {
			speed = words.Say("runsheet.rated-why", words.Args{"rated": rated, "why": words.Name(speed)}).Text(r.W)
		}
	}
	all := []answer{
		{words.Say("runsheet.set-speed").Text(r.W), words.Fixed(r.SetSpeed, 0).Text(r.W), speed},
		{words.Say("runsheet.one-run").Text(r.W), words.Seconds(r.RunSeconds).Text(r.W), interval},
		{words.Say("runsheet.whole-lot").Text(r.W), words.Seconds(r.LotSeconds).Text(r.W), pieces},
	}
	w := width / float64(len(all))
	top := p.y
	low := top
	for i, a := range all {
		x := margin + float64(i)*w
		p.text(x, top+small, a.what, small, false, quiet)
		p.text(x, top+small+23, p.fit(a.big, w-8, 22, true), 22, true, black)
		y := top + small + 34
		for _, l := range p.wrap(a.note, w-10, small, false) {
			p.text(x, y, l, small, false, quiet)
			y += small * 1.3
		}
		low = max(low, y)
	}
	p.y = low + 6
}

func (r *RunSheet) colours(p *page) {
	if len(r.Colours) == 0 {
		return
	}
	p.heading(words.Say("runsheet.colour-order").Text(r.W))
	var rows [][]string
	for i, c := range r.Colours {
		rows = append(rows, []string{
			strconv.Itoa(i + 1), strconv.Itoa(c.Needle), "", c.Thread, c.Change,
			words.Whole(c.Stitches).Text(r.W), words.Clock(c.From).Text(r.W), words.Clock(c.Seconds).Text(r.W),
		})
	}
	p.table(table{
		cols: []column{{head: words.Say("runsheet.block").Text(r.W), width: 0.07},
			{head: words.Say("runsheet.needle").Text(r.W), width: 0.09, bold: true}, {head: "", width: 0.06},
			{head: words.Say("runsheet.thread").Text(r.W), width: 0.32, bold: true},
			{head: words.Say("runsheet.cone-column").Text(r.W), width: 0.14},
			{head: words.Say("runsheet.stitches").Text(r.W), width: 0.11, right: true},
			{head: words.Say("runsheet.begins-at").Text(r.W), width: 0.1, right: true},
			{head: words.Say("runsheet.takes").Text(r.W), width: 0.11, right: true}},
		wrap: 3,
		mark: func(row int, x []float64, y float64) {
			// The swatch is thread, beside its name; an outline holds it on white.
			c := r.Colours[row].Colour
			p.f.SetFillColor(int(c.R), int(c.G), int(c.B))
			p.f.SetDrawColor(black, black, black)
			p.f.SetLineWidth(0.4)
			p.f.Rect(x[2], y-7.5, 22, 9, "FD")
		},
	}, rows)
}

const bulletSize = normal - 1.0

func (r *RunSheet) bulletHeight(p *page, s string, width float64) float64 {
	return float64(len(p.wrap(s, width-12, bulletSize, false)))*bulletSize*1.25 + 1.5
}

func (r *RunSheet) bullet(p *page, s string, x, width float64) {
	lines := p.wrap(s, width-12, bulletSize, false)
	p.need(float64(len(lines)) * bulletSize * 1.25)
	p.text(x, p.y+bulletSize, "–", bulletSize, false, black)
	for _, l := range lines {
		p.text(x+12, p.y+bulletSize, l, bulletSize, false, black)
		p.y += bulletSize * 1.25
	}
	p.y += 1.5
}

// byHand is room to record the run with a pen.
func (r *RunSheet) byHand(p *page) {
	p.need(40) // what it takes
	p.heading(words.Say("runsheet.record").Text(r.W))
	blanks := []words.Message{
		words.Say("runsheet.good"), words.Say("runsheet.spoilt"), words.Say("runsheet.broken"),
		words.Say("runsheet.began"), words.Say("runsheet.ended"), words.Say("runsheet.name"),
	}
	w := p.width() / float64(len(blanks))
	p.y += 16
	p.f.SetDrawColor(black, black, black)
	p.f.SetLineWidth(0.5)
	for i, b := range blanks {
		x := margin + float64(i)*w
		p.f.Line(x, p.y, x+w-12, p.y)
		p.text(x, p.y+small+2, b.Text(r.W), small, false, quiet)
	}
	p.y += 12
}
