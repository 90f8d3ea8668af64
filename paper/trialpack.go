package paper

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

// pack is a zip that is written; the first error stays.
type pack struct {
	z    *zip.Writer
	made time.Time
	err  error
}

func newPack(w io.Writer, made time.Time) *pack { return &pack{z: zip.NewWriter(w), made: made} }

func (p *pack) put(name string, write func(io.Writer) error) {
	if p.err != nil {
		return
	}
	f, err := p.z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: p.made.UTC()})
	if err == nil {
		err = write(f)
	}
	p.err = err
}

func (p *pack) close() error {
	if p.err != nil {
		return p.err
	}
	return p.z.Close()
}

// TrialPack writes what one place of a trial needs as a zip: the stitch files in the
// formats that its machines read, a card (what to sew, cautions, how to time), and the
// sheets that come back. page is the address where the trial is kept, for the card; empty:
// nobody else can open it.
func TrialPack(w io.Writer, a *ask.TrialAnswer, place, page string, size Size, made time.Time, by *words.Writer) error {
	at := slices.IndexFunc(a.Places, func(p ask.TrialPlace) bool { return p.Name == place })
	if at < 0 {
		return fmt.Errorf("the trial has no place %q", place)
	}
	p := &a.Places[at]
	z := newPack(w, made)
	card := TrialCard(a, p, page, made, by)
	z.put("card.pdf", func(w io.Writer) error { return card.PDF(w, size) })
	formats := map[string]bool{}
	for _, m := range a.File.Machines {
		if m.Place != place || formats[m.Format] {
			continue
		}
		formats[m.Format] = true
		for _, d := range a.Designs {
			var b bytes.Buffer
			if _, err := stitchfile.EncodeFor(&b, d.Of.Design, m.Format, stitchfile.Readers{}); err != nil {
				return fmt.Errorf("design %s for %s: %w", d.Name, m.Name, err)
			}
			name := d.Name + "." + m.Format
			back, err := stitchfile.Decode(b.Bytes(), name)
			if err != nil || trial.Digest(back) != d.Digest {
				return fmt.Errorf("design %s cannot be written as .%s without sewing otherwise: choose another format for %s", d.Name, m.Format, m.Name)
			}
			z.put(name, func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err })
		}
	}
	times, grades := timesSheet(a, p, by), gradesSheet(a, p, by)
	z.put("times-"+place+".csv", func(w io.Writer) error { return sheetCSV(w, times) })
	z.put("times-"+place+".xlsx", func(w io.Writer) error { return XLSX(w, times) })
	z.put("grades-"+place+".csv", func(w io.Writer) error { return sheetCSV(w, grades) })
	return z.close()
}

func timesSheet(a *ask.TrialAnswer, p *ask.TrialPlace, by *words.Writer) Sheet {
	s := Sheet{Name: "times"}
	for _, c := range trial.SheetColumns {
		s.Columns = append(s.Columns, Column{Head: trial.Head(c, by)})
	}
	for _, t := range p.Turns {
		s.Rows = append(s.Rows, []any{a.Trial, p.Name, t.Number, t.Block, t.Design, digestOf(a, t.Design), t.Machine, t.Person, speedOf(a, t.Machine)})
	}
	return s
}

func gradesSheet(a *ask.TrialAnswer, p *ask.TrialPlace, by *words.Writer) Sheet {
	s := Sheet{Name: "grades"}
	for _, c := range trial.BlindColumns {
		s.Columns = append(s.Columns, Column{Head: trial.Head(c, by)})
	}
	for _, x := range trial.Aspects {
		s.Columns = append(s.Columns, Column{Head: trial.Head(string(x), by)})
	}
	for _, t := range p.Turns {
		s.Rows = append(s.Rows, []any{a.Trial, p.Name, t.Number, t.Design})
	}
	return s
}

func digestOf(a *ask.TrialAnswer, design string) string {
	i := slices.IndexFunc(a.Designs, func(d ask.TrialDesign) bool { return d.Name == design })
	return a.Designs[i].Digest
}

func speedOf(a *ask.TrialAnswer, machine string) float64 {
	i := slices.IndexFunc(a.File.Machines, func(m trial.MachineKeys) bool { return m.Name == machine })
	return a.File.Machines[i].Speed
}

// sheetCSV writes a sheet of texts and numbers as CSV. It begins with the mark of UTF-8,
// without which a spreadsheet takes the letters of names for those of another code page.
func sheetCSV(w io.Writer, s Sheet) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	head := make([]string, len(s.Columns))
	for i, c := range s.Columns {
		head[i] = c.Head
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for _, row := range s.Rows {
		line := make([]string, len(s.Columns))
		for i, v := range row {
			switch v := v.(type) {
			case string:
				line[i] = cellText(v)
			case float64:
				line[i] = strconv.FormatFloat(v, 'f', -1, 64)
			default:
				line[i] = fmt.Sprint(v)
			}
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// TrialCard is what a place sews by.
func TrialCard(a *ask.TrialAnswer, p *ask.TrialPlace, page string, made time.Time, by *words.Writer) *Document {
	f := a.File
	d := &Document{Shop: adviser(f), Number: p.Called, Made: made, W: by}
	d.Kind, d.Title = d.Say("trialcard.kind"), d.Say("trialcard.title", words.Args{"trial": words.Name(a.Trial), "place": words.Name(p.Called)})
	d.Foot = d.Say("trial.foot", words.Args{"trial": words.Name(a.Trial), "digest": words.Name(a.Digest), "day": words.NewDay(made.Date())})
	d.Add(Heading{Text: d.Title})
	d.unchecked(d.Say("paper.unchecked"))
	if a.Invented {
		d.Add(Paragraph{Text: d.Say("trial.invented"), Quiet: true})
	}
	d.Add(Heading{Text: d.Say("trialcard.cautions"), Level: 2})
	cautions := cautionsOf(a.Dangers, by)
	d.Add(cautions, Heading{Text: d.Say("trialcard.same"), Level: 2},
		Facts{{d.Say("trialcard.cloth"), f.Cloth}, {d.Say("trialcard.backing"), f.Backing}, {d.Say("trialcard.thread"), f.Thread},
			{d.Say("trialcard.needle"), f.Needle}, {d.Say("trialcard.note"), f.Note}})
	g := Grid{Columns: []GridColumn{{Head: d.Say("clock.machine"), Share: 0.4, Bold: true}, {Head: d.Say("trial.speed"), Share: 0.3, Right: true},
		{Share: 0.03}, {Head: d.Say("trialcard.file"), Share: 0.27}}}
	for _, m := range f.Machines {
		if m.Place == p.Name {
			g.Rows = append(g.Rows, []string{m.Name, words.PerMinute(m.Speed).Text(by), "", "." + m.Format})
		}
	}
	d.Add(g, Heading{Text: d.Say("trialcard.how"), Level: 2}, Bullets{d.Say("trialcard.how-order"), d.Say("trialcard.how-waste"),
		d.Say("trialcard.how-watch"), d.Say("trialcard.how-stood"),
		d.Say("trialcard.how-mark", words.Args{"place": words.Name(p.Name)}), d.Say("trialcard.how-photo", words.Args{"place": words.Name(p.Name)}),
		d.Say("trialcard.how-record", words.Args{"place": words.Name(p.Name)}),
		d.Say("trialcard.how-send", words.Args{"place": words.Name(p.Name)})})
	d.Text(a.Takes(p).Text(by))
	if page != "" {
		d.Text(d.Say("trialcard.page"))
		d.Add(Code{Text: page, Caption: page})
	}
	d.Add(Heading{Text: d.Say("trial.turns", words.Args{"place": words.Name(p.Called)}), Level: 2, Anew: true})
	t := Grid{Columns: []GridColumn{{Head: d.Say("trial.turn"), Share: 0.06, Right: true}, {Head: d.Say("trial.block"), Share: 0.07, Right: true}, {Share: 0.02},
		{Head: d.Say("clock.design"), Share: 0.2, Bold: true}, {Head: d.Say("clock.machine"), Share: 0.2, Wraps: true}, {Head: d.Say("trial.person"), Share: 0.12},
		{Head: d.Say("trialcard.time"), Share: 0.16}, {Head: d.Say("trialcard.stood"), Share: 0.17}}}
	for _, x := range p.Turns {
		t.Rows = append(t.Rows, []string{strconv.Itoa(x.Number), strconv.Itoa(x.Block), "", x.Design, x.Machine, x.Person, "", ""})
	}
	d.Add(t)
	d.Add(Heading{Text: d.Say("trialcard.designs"), Level: 2})
	for _, x := range a.Designs {
		pic := picture.SewOutOf(x.Of.Design, 3, x.Name, drawingWidth)
		pic.W = by
		d.Add(Drawing{Pic: pic, High: 0.2, Caption: d.Say("trialcard.design", words.Args{"design": words.Name(x.Name),
			"stitches": words.Count(x.Stitches, "stitch"), "digest": words.Name(x.Digest)})})
	}
	d.Add(Heading{Text: d.Say("trial.grades"), Level: 2}, Paragraph{Text: d.Say("trialcard.grades")})
	for _, x := range trial.Aspects {
		d.Add(Heading{Text: words.Sentence(d.Say("trial.aspect." + string(x))), Level: 3}, Drawing{Pic: &picture.GradeSteps{Of: x, W: by, Width: 460}, High: 0.13})
		var steps Bullets
		for grade := trial.BestGrade; grade >= trial.WorstGrade; grade-- {
			steps = append(steps, strconv.Itoa(grade)+": "+picture.GradeSay(x, grade).Text(by))
		}
		d.Add(steps)
	}
	d.Add(Blanks{d.Say("letter.who"), d.Say("letter.day")})
	return d
}

// cautionsOf are what a card says first: the dangers of its designs, then those of any machine.
func cautionsOf(dangers []words.Plain, by *words.Writer) (all Bullets) {
	for _, c := range slices.Concat(dangers, book.Cautions()) {
		all = append(all, c.Text(by))
	}
	return all
}

// adviser is the head of a trial's papers.
func adviser(f *trial.File) Shop {
	s := Shop{Name: f.Adviser}
	for _, l := range strings.Split(f.Address, ";") {
		if l = strings.TrimSpace(l); l != "" {
			s.Lines = append(s.Lines, l)
		}
	}
	return s
}
