package ask

import (
	"context"
	"fmt"
	"math"

	"needlepace/book"
	"needlepace/floor"
	"needlepace/money"
)

// Pieces with names are sewn so: all heads sew the line's design together, then each
// name's lettering is sewn on its own head while the others rest, for a machine's heads
// sew one design at a time. What is sewn alone has no design before it.

// nameFile is a stitch file of names.
type nameFile struct {
	d       *book.Design
	n       int      // names that it is of
	first   int      // of its colour blocks in those of the shape
	threads []string // of its colour blocks
}

// letter adds the files of a line's names, each once.
func (sh *lineShape) letter(ctx context.Context, from LineFrom, l *book.OrderLine) error {
	at := map[string]int{}
	for _, n := range l.Names {
		k, known := at[n.DesignID]
		if !known {
			d, err := from.Design(ctx, n.DesignID)
			if err != nil {
				return err
			}
			k = len(sh.files)
			at[n.DesignID] = k
			threads := book.LetteringThreads(l, d)
			sh.files = append(sh.files, nameFile{d: d, first: len(sh.blocks), threads: threads})
			sh.blocks = append(sh.blocks, threads...)
		}
		sh.files[k].n++
		sh.names++
	}
	return nil
}

// nameKey tells shapes with other names apart; "" where there are none.
func (sh *lineShape) nameKey() (key string) {
	if sh.names > 0 {
		key = fmt.Sprint(sh.own)
	}
	for i := range sh.files {
		key += fmt.Sprint("\x00", sh.files[i].d.ID, "×", sh.files[i].n)
	}
	return key
}

// lettering is what the names of a line take on a machine.
type lettering struct {
	Files  []letterOn
	Names  int
	PerRun float64 // names in a run, the last one with empty heads counted in
	Mean   float64 // s a name, by the clock
	// of a name, the mean; seconds as the floor sees them, stops left out:
	seconds, planned, stitches, bobbin, stops float64
}

// letterOn is a stitch file of names on a machine.
type letterOn struct {
	*nameFile
	Needles []int
	Seconds float64 // s, by the clock
}

// lettered clocks the names' files, each on one head, and adds them to k.
func (sh *lineShape) lettered(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station, k *lineOn,
) error {
	n := sh.needled(st.Sheet.Needles)
	a := &lettering{Names: sh.names, PerRun: float64(sh.names) / math.Ceil(float64(sh.names)/float64(st.heads))}
	for i := range sh.files {
		f := &sh.files[i]
		on := letterOn{nameFile: f, Needles: n.needles[f.first : f.first+len(f.threads)]}
		key := fmt.Sprint("name ", f.d.ID, l.LineGoods, on.Needles)
		run, err := runOn(ctx, from, key, l, f.d, on.Needles, st, 1)
		if err != nil {
			return err
		}
		on.Seconds = run.Seconds[0]
		share := float64(f.n) / float64(sh.names)
		for _, s := range run.Stops {
			a.stops += share * s.Work.Mean
			if st.Sheet.Needles == 1 {
				on.Seconds += s.Work.Mean // as in reckon
			}
		}
		a.Mean += share * on.Seconds
		a.seconds += share * run.Seconds[0]
		a.planned += share * run.Planned
		a.stitches += share * float64(run.Stitches)
		a.bobbin += share * run.BobbinMetres
		a.Files = append(a.Files, on)
		if sh.own == 0 && (i == 0 || f.d.ID == d.ID) {
			k.Needles = on.Needles
		}
	}
	k.Names = a
	if k.SetSpeed = a.stitches / a.planned * 60; sh.own > 0 {
		k.SetSpeed = float64(k.full.Stitches) / k.full.Planned * 60
	}
	k.full = a.after(&k.full, float64(st.heads))
	return nil
}

// after is a run of the design, and so many names after it, one after the other.
func (a *lettering) after(run *floor.Run, names float64) floor.Run {
	out := *run
	sewn := 0.0
	if len(run.Seconds) > 0 {
		sewn = run.Seconds[0]
	}
	seconds := sewn + names*a.seconds
	out.Seconds = []float64{seconds}
	out.Planned += names * a.planned
	out.Stitches += int(math.Round(a.stitches))
	out.BobbinMetres += a.bobbin
	out.Stops = nil
	for _, s := range run.Stops {
		s.Fraction *= sewn / seconds
		out.Stops = append(out.Stops, s)
	}
	if a.stops > 0 {
		out.Stops = append(out.Stops, floor.AtStop{Fraction: 1, Work: floor.Spread{Mean: names * a.stops}})
	}
	return out
}

// lettered puts what the names take into what a piece takes: their thread, their
// backing below the design's, and that a name sews for itself, however many heads there
// are.
func (p *pricedOn) lettered(
	ctx context.Context, from LineFrom, l *book.OrderLine, des *book.Design, made *money.Made,
) error {
	use, _, err := useOf(ctx, from, l, des, p.st)
	if err != nil {
		return err
	}
	made.Top, made.Bobbin = use.Total.Top, use.Total.Bobbin
	if l.NamesAlone {
		made.Width, made.Height = 0, 0
	}
	wide, high := 0.0, 0.0
	for _, f := range p.k.Names.Files {
		share := float64(f.n) / float64(p.k.Names.Names)
		wide, high = wide+share*f.d.WidthMM, high+share*f.d.HeightMM
	}
	made.Width, made.Height = max(made.Width, wide), made.Height+high
	made.Alone = p.k.Names.seconds * p.st.rates.Pace
	return nil
}

// namesOfLot is a part of a line with the names of a lot: those that the lots before it
// leave. Names that are sewn alone stand for their first one's file.
func namesOfLot(l *book.OrderLine, before, pieces int) *book.OrderLine {
	if !l.Named() {
		return l
	}
	out := *l
	if before < len(l.Names) {
		out.Names = l.Names[before:min(before+pieces, len(l.Names))]
	}
	if l.NamesAlone {
		out.DesignID = out.Names[0].DesignID
	}
	return &out
}

// fillNames lists the names of a run sheet: which run and which head sews each, and how
// long it takes.
func fillNames(r *book.RunSheet, l *book.OrderLine, heads int, k *lineOn, run *LineRun) {
	if k.Names == nil {
		return
	}
	r.NamesAlone = l.NamesAlone
	file := map[string]string{}
	for _, f := range k.Names.Files {
		file[f.d.ID] = f.d.File
	}
	for i, n := range l.Names {
		r.Names = append(r.Names, book.RunName{NameRow: n, Piece: i + 1, Run: i/heads + 1, Head: i%heads + 1,
			File: file[n.DesignID], Seconds: run.letters[n.DesignID]})
	}
}

// quoted is what a quote tells of a line's names, on the first of its machines.
func (a *lettering) quoted(l *book.OrderLine) *book.QuoteNames {
	q := &book.QuoteNames{Names: a.Names, Files: len(a.Files), Alone: l.NamesAlone, Mean: a.Mean}
	name := func(id string) string {
		for _, n := range l.Names {
			if n.DesignID == id {
				return n.Name
			}
		}
		return ""
	}
	short, long := a.Files[0], a.Files[0]
	for _, f := range a.Files {
		if f.Seconds < short.Seconds {
			short = f
		}
		if f.Seconds > long.Seconds {
			long = f
		}
	}
	q.Short, q.ShortSeconds = name(short.d.ID), short.Seconds
	q.Long, q.LongSeconds = name(long.d.ID), long.Seconds
	return q
}
