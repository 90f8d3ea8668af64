package pages

import (
	"context"
	"strings"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// heardTogether are timed runs that were heard in one recording.
type heardTogether struct {
	shop.Run // the first of them
	Parts    int
	Readings int // of them, of the speed held
}

// Rows is how many rows they are.
func (h heardTogether) Rows() words.Value { return words.Count(h.Parts+h.Readings, "row") }

// together parts timed runs in those that stand alone and those that were heard in a recording,
// both in their order.
func together(runs []shop.Run) (alone []shop.Run, heard []*heardTogether) {
	by := map[string]*heardTogether{}
	for _, r := range runs {
		if r.HeardID == "" {
			alone = append(alone, r)
			continue
		}
		h := by[r.HeardID]
		if h == nil {
			h = &heardTogether{Run: r}
			by[r.HeardID] = h
			heard = append(heard, h)
		}
		if h.DesignID == "" { // a reading: the design stands with the parts
			h.DesignID = r.DesignID
		}
		if r.Shown > 0 {
			h.Readings++
		} else {
			h.Parts++
		}
	}
	return alone, heard
}

// recordingsTable lists the recordings that a machine's timed runs were heard in.
func (c *call) recordingsTable(heard []*heardTogether) *table {
	w := c.writer()
	t := &table{ID: "heard-runs", Caption: words.Say("machine-runs.heard").Text(w), Full: true,
		Cols: cols("Date", "Design", "#Set speed", "#Stretches and rests", "#Speeds held")}
	for i, key := range []string{"date", "design", "col-speed", "stretches", "speeds-held"} {
		t.Cols[i].say(words.Say("machine-runs."+key), w)
	}
	name := c.designNames()
	for _, h := range heard {
		t.row(figure(h.Date.Text(w), h.Date.String()), text(name(h.DesignID)),
			figure(words.PerMinute(h.SetSpeed).Text(w), raw(h.SetSpeed)), whole(h.Parts), whole(h.Readings))
	}
	return t
}

// designNames gives designs' names, each looked for once; empty where a design is not there any more.
func (c *call) designNames() func(id string) string {
	names := map[string]string{"": ""}
	return func(id string) string {
		if _, ok := names[id]; !ok {
			names[id] = ""
			if d, err := c.Shop.Designs.Get(c.Ctx, id); err == nil {
				names[id] = d.Name
			}
		}
		return names[id]
	}
}

// runsTable lists a machine's timed runs.
func (c *call) runsTable(id string, caption words.Message, runs []shop.Run) *table {
	w := c.writer()
	t := &table{ID: id, Caption: caption.Text(w), Full: true,
		Cols: cols("Date", "Design", "What=block", "#Set speed", "#Time=seconds", "#On the display=shown_speed",
			"Stitch=length_mm", "Note")}
	for i, key := range []string{"date", "design", "col-what", "col-speed", "col-time", "on-display", "stitch", "note"} {
		t.Cols[i].say(words.Say("machine-runs."+key), w)
	}
	name := c.designNames()
	for _, r := range runs {
		what := words.List{words.Say("machine-runs.whole")}
		if r.Block > 0 {
			what = words.List{words.Say("machine-runs.a-block", words.Args{"n": words.Whole(r.Block)})}
		}
		if part := partOf(r.With); part != "" {
			what = append(what, part.Says())
		}
		at, shown, length := figure("", ""), figure("", ""), figure("", "")
		if r.Shown > 0 {
			what, shown = words.List{words.Say("machine-runs.display")}, figure(words.PerMinute(r.Shown).Text(w), raw(r.Shown))
			way := words.Say("machine-runs.straight", words.Args{"length": words.MM(r.LengthMM)})
			if r.Zigzag {
				way = words.Say("machine-runs.to-and-fro", words.Args{"length": words.MM(r.LengthMM)})
			}
			length = figure(way.Text(w), raw(r.LengthMM))
		} else {
			at = figure(words.Seconds(r.Seconds).Text(w), raw(r.Seconds))
		}
		t.row(figure(r.Date.Text(w), r.Date.String()), text(name(r.DesignID)), figure(commas(what, w), commas(what, nil)),
			figure(words.PerMinute(r.SetSpeed).Text(w), raw(r.SetSpeed)),
			at, shown, length, text(r.Note))
	}
	return t
}

// commas are values with a comma between.
func commas(all words.List, w *words.Writer) string {
	out := make([]string, len(all))
	for i, v := range all {
		out[i] = v.Text(w)
	}
	return strings.Join(out, ", ")
}

// ofRun says which run it is: its day, what it is of and how long it took.
func ofRun(r shop.Run, w *words.Writer) string {
	all := words.List{r.Date}
	if r.Block > 0 {
		all = append(all, words.Say("machine-runs.a-block", words.Args{"n": words.Whole(r.Block)}))
	}
	if part := partOf(r.With); part != "" {
		all = append(all, part.Says())
	}
	if r.Seconds > 0 {
		all = append(all, words.Seconds(r.Seconds))
	}
	return commas(all, w)
}

// partOf is what part of a block a run is of; "" for the block or the whole run.
func partOf(with string) learn.Only {
	_, only, _ := learn.ParseWith(with) // what the shop keeps was checked when it came in
	return only
}

// learnForm fits a machine's sheet to its timed runs and shows what was
// learned; with keep it becomes the machine's sheet. A slip in the address is one
// that the answer asked about: its runs are kept as they were meant.
func learnForm(keep bool) func(*call) error {
	return func(c *call) error {
		id, how := c.PathValue("machine"), act.Learning{Keep: keep, By: c.By()}
		var err error
		if how.Since, err = words.ParseDay(c.FormValue("since")); err != nil {
			return shop.At("since", shop.Invalidf("%w", err))
		}
		if slip := c.PathValue("slip"); slip != "" {
			how.Meant = []string{slip}
		}
		if err := c.Shop.LearnCheck(c.Ctx, id); err != nil {
			return err
		}
		return c.beginPage("learn", "/machines/"+id+"/learned", func(ctx context.Context, s jobs.Step) (any, error) {
			s(0, "fitting the sheet to the runs")
			return c.Shop.Learn(ctx, id, how)
		})
	}
}

// learnedData is what was learned.
type learnedData struct {
	M   *shop.Machine
	L   *act.LearnedSheet
	Law *ask.LawAnswer
	Odd []string // suspicious runs and warnings
}

func showLearned(c *call) error {
	id := c.PathValue("machine")
	m, err := c.Shop.Machines.Get(c.Ctx, id)
	if err != nil {
		return err
	}
	if c.asks("work") == "" {
		return c.see("/machines/" + id)
	}
	l, shown, err := result[*act.LearnedSheet](c)
	if err != nil || shown {
		return err
	}
	if l.Machine != nil {
		return c.see("/machines/" + id)
	}
	data := &learnedData{M: m, L: l, Law: l.Law()}
	for _, p := range l.OddOnly() {
		data.Odd = append(data.Odd, words.Sentence(p.String()))
	}
	p := &page{Title: "Learned: " + m.Name, Nav: "machines", Data: data}
	p.addTables(c.writer(), l.ConstantsTable(), l.RowsTable())
	p.Tables["learned"].cards()
	p.Tables["runs"].cards()
	p.addLaw(c.writer(), data.Law)
	p.Paper = learnPaper(m, l, c.writer())
	return c.show("learned.html", p)
}

// runFields are the forms of a run that was timed with a watch, and of a reading
// off the display.
type runFields struct {
	Kind     string          `toml:"kind"` // "display", else a run
	Date     words.Day       `toml:"date"`
	SetSpeed *amount         `toml:"set_speed"`
	Design   string          `toml:"design"`
	Block    *count          `toml:"block"` // nil: the whole run
	Time     *timed          `toml:"time"`
	Shown    *amount         `toml:"shown"`
	Length   *amount         `toml:"length"`
	Zigzag   bool            `toml:"zigzag"`
	Note     string          `toml:"note"`
	Job      map[string]bool `toml:"job"`     // kinds of job, by name
	Needles  string          `toml:"needles"` // of each colour block, e.g. "1 4 2"
	Sure     bool            `toml:"sure"`    // it is right, far as it lies from what was predicted
}

// Kinds are the kinds of job that were ticked.
func (in *runFields) Kinds() (out machine.Jobs) {
	for name, on := range in.Job {
		if k, err := machine.ParseJobs(name); on && err == nil {
			out |= k
		}
	}
	return out
}

// addRunForm keeps a run that was timed with a watch, or a reading off the display.
func addRunForm(c *call) error {
	var in runFields
	id := c.PathValue("machine")
	return c.sent(&in, func(f *form) (string, error) {
		f.named = map[string]string{"seconds": "time", "shown_speed": "shown", "length_mm": "length", "sure": "sure"}
		r := shop.Run{Date: in.Date, SetSpeed: float64(or(in.SetSpeed, 0)), Sure: in.Sure, Note: strings.TrimSpace(in.Note)}
		r.Job = in.Kinds().String()
		if in.Kind == "display" {
			r.Shown, r.LengthMM, r.Zigzag = float64(or(in.Shown, 0)), float64(or(in.Length, 0)), in.Zigzag
			if r.Shown == 0 {
				f.refuse("shown", words.Say("machine-runs.give-shown").Text(f.w))
				return "", nil
			}
		} else {
			t := or(in.Time, timed{})
			if err := c.designOf(f, "design", &in.Design); err != nil || f.bad() {
				return "", err
			}
			r.DesignID, r.Block, r.Seconds, r.Step = in.Design, int(or(in.Block, 0)), t.seconds, t.step
			r.Needles = strings.TrimSpace(in.Needles)
		}
		_, err := c.Shop.Timings.AddRuns(c.Ctx, id, []shop.Run{r})
		return "/machines/" + id + "#timed", err
	}, func(f *form) error {
		f.name = firstOf(in.Kind, "run")
		return c.machinePage(&in, f)
	})
}

func removeHeardRunsForm(c *call) error {
	return c.seeOr("/machines/"+c.PathValue("machine")+"#timed", c.Shop.Timings.DeleteHeardRuns(c.Ctx, c.PathValue("heard")))
}

func removeRunForm(c *call) error {
	return c.seeOr("/machines/"+c.PathValue("machine")+"#timed", c.Shop.Timings.DeleteRun(c.Ctx, c.PathValue("run")))
}
