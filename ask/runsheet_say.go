package ask

import (
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// RunSheetChanges says what interrupts the runs of a sheet: bobbins, the last
// run, thread breaks, the design's own stops.
func RunSheetChanges(r *book.RunSheet) words.Sentences {
	bobbins := words.Count(r.Bobbins, "bobbin")
	var out words.Sentences
	switch r.BobbinRuns {
	case 0:
		out.Say("runsheet.bobbins-within", words.Args{"bobbins": bobbins})
	case 1:
		out.Say("runsheet.bobbins-every", words.Args{"bobbins": bobbins})
	default:
		out.Say("runsheet.bobbins-after", words.Args{
			"bobbins": bobbins, "runs": words.Count(r.BobbinRuns, "run"),
		})
	}
	if r.LastRun < r.Heads {
		out.Say("runsheet.last-run", words.Args{
			"last": words.Whole(r.LastRun), "heads": words.Count(r.Heads, "head"),
		})
	}
	if len(r.Names) > 0 {
		switch {
		case r.Heads == 1:
			out.Say("runsheet.names-one")
		case r.NamesAlone:
			out.Say("runsheet.names-alone")
		default:
			out.Say("runsheet.names-after")
		}
	}
	out.Say("runsheet.breaks", words.Args{"breaks": words.Mean(r.Breaks, "thread-break")})
	for _, s := range r.Stops {
		out.Say("runsheet.stop", words.Args{"what": s})
	}
	return out
}

// RunSheetFacts are what a sheet is about, by name: its order, its design, its
// goods and its days. What is not known is left out.
func RunSheetFacts(r *book.RunSheet, zone words.Zone, now time.Time) [][2]words.Value {
	var out [][2]words.Value
	add := func(name words.Message, v words.Value) { out = append(out, [2]words.Value{name, v}) }
	given := func(name words.Message, text string) {
		if text != "" {
			add(name, words.Name(text))
		}
	}
	add(words.Say("runsheet.order"), words.Say("runsheet.order-of",
		words.Args{"name": words.Name(r.Name), "customer": words.Name(r.Customer)}))
	add(words.Say("column.design"), DesignFile(r.File, r.Label))
	add(words.Say("runsheet.size"), words.Say("runsheet.size-is", words.Args{
		"size": words.Size{W: r.WidthMM, H: r.HeightMM}, "stitches": words.Count(r.Stitches, "stitch"),
	}))
	given(words.Say("column.garment"), r.Garment)
	given(words.Say("runsheet.sewn-on"), strings.Join(r.On, ", "))
	given(words.Say("runsheet.sizes-fact"), RunSheetSize(r))
	given(words.Say("runsheet.place"), r.Placement)
	add(words.Say("runsheet.frame"), book.FrameName(r.Frame))
	if !r.Planned.IsZero() {
		add(words.Say("runsheet.by-plan"), words.Say("runsheet.from-to", words.Args{
			"from": zone.Near(r.Planned, now), "to": zone.Near(r.Done, now),
		}))
		if since := words.Message(r.Since); !since.IsZero() {
			add(words.Say("runsheet.plan-since"), since)
		}
	}
	if !r.Due.IsZero() {
		add(words.Say("column.due"), words.NearDay{Day: r.Due, Today: zone.Day(now)})
	}
	if r.Again > 0 {
		add(words.Say("runsheet.again"), words.Say("runsheet.again-is", words.Args{
			"pieces": words.Count(r.Again, "piece"), "garments": words.Count(r.Garments, "new-garment")}))
	}
	given(words.Say("column.note"), r.Note)
	for _, b := range r.Blocks {
		if b.Colour == "" {
			add(words.Say("runsheet.drawing"), words.Say("runsheet.no-colour"))
			break
		}
	}
	return out
}

// RunSheetCones says which cones are wanted.
func RunSheetCones(r *book.RunSheet) words.Message {
	var all words.List
	for _, c := range r.Colours {
		all.Say("runsheet.cone", words.Args{
			"thread": words.Name(c.Thread), "cones": words.Count(c.Cones, "cone"), "metres": words.Metres(c.Metres),
		})
	}
	return words.Say("runsheet.cones", words.Args{"cones": all})
}

// RunSheetBlocks is the colour order of a sheet with its needles. When a block
// begins and what it takes are both as on a stopwatch.
func RunSheetBlocks(r *book.RunSheet) *Table {
	t := table("colours", words.Say("runsheet.colours-and-needles"),
		number("block", "runsheet.block"),
		number("needle", "runsheet.needle"),
		column("thread", "runsheet.thread"),
		column("cone", "runsheet.cone-column"),
		number("stitches", "runsheet.stitches"),
		number("starts_seconds", "runsheet.begins"),
		number("seconds", "runsheet.takes"),
	)
	for i := range r.Blocks {
		b := &r.Blocks[i]
		t.add(words.Whole(b.Block), words.Whole(b.Needle), words.Name(b.Thread), b.Cone,
			words.Whole(b.Stitches), words.Clock(b.Starts), words.Clock(b.Seconds))
	}
	return t
}

// RunSheetSizes are the garments of a sheet in the order in which they are sewn,
// with their sum; nil where they are all alike.
func RunSheetSizes(r *book.RunSheet) *Table {
	if len(r.Sizes) == 0 {
		return nil
	}
	t := table("sizes", words.Say("runsheet.sizes", words.Args{"pieces": words.Count(book.InSizes(r.Sizes), "piece")}),
		column("colour", "runsheet.garment-colour"),
		column("size", "runsheet.garment-size"),
		number("pieces", "column.pieces"),
	)
	for _, z := range r.Sizes {
		t.add(words.Name(z.Colour), words.Name(z.Size), words.Whole(z.Pieces))
	}
	return t
}

// RunSheetSize is the same in a line: "navy S 10, navy M 20".
func RunSheetSize(r *book.RunSheet) string {
	var out []string
	for _, z := range r.Sizes {
		out = append(out, strings.TrimSpace(strings.TrimSpace(z.Colour+" "+z.Size)+" "+words.Whole(z.Pieces).Text(nil)))
	}
	return strings.Join(out, ", ")
}

// tickBox is where a pen says that a piece is done.
const tickBox = "☐"

// RunSheetNames are the pieces of a sheet that have names, each with a box to tick, in
// the order in which they are sewn; nil where they have none.
func RunSheetNames(r *book.RunSheet) *Table {
	if len(r.Names) == 0 {
		return nil
	}
	has := func(of func(*book.RunName) string) bool {
		return slices.ContainsFunc(r.Names, func(n book.RunName) bool { return of(&n) != "" })
	}
	colours := has(func(n *book.RunName) string { return n.Colour })
	sizes := has(func(n *book.RunName) string { return n.Size })
	t := table("names", words.Say("runsheet.names", words.Args{"names": words.Count(len(r.Names), "name")}),
		column("done", "runsheet.done"), number("piece", "runsheet.piece"), column("name", "runsheet.name"))
	if colours {
		t.Columns = append(t.Columns, column("colour", "runsheet.garment-colour"))
	}
	if sizes {
		t.Columns = append(t.Columns, column("size", "runsheet.garment-size"))
	}
	t.Columns = append(t.Columns, column("file", "runsheet.file"), number("run", "runsheet.in-run"), number("head", "runsheet.on-head"),
		number("seconds", "runsheet.takes"))
	for i := range r.Names {
		n := &r.Names[i]
		row := []words.Value{words.Name(tickBox), words.Whole(n.Piece), words.Name(n.Name)}
		if colours {
			row = append(row, words.Name(n.Colour))
		}
		if sizes {
			row = append(row, words.Name(n.Size))
		}
		t.add(append(row, words.Name(n.File), words.Whole(n.Run), words.Whole(n.Head), words.Clock(n.Seconds))...)
	}
	return t
}

// RunSheetThread is the thread to have at hand for all pieces of a sheet.
func RunSheetThread(r *book.RunSheet) *Table {
	t := table("thread", words.Say("runsheet.thread-for", words.Args{"pieces": words.Count(r.Quantity, "piece")}),
		number("needle", "runsheet.needle"),
		column("thread", "runsheet.thread"),
		number("metres", "runsheet.metres"),
		number("cones", "runsheet.cones-column"),
	)
	for _, c := range r.Colours {
		t.add(words.Whole(c.Needle), words.Name(c.Thread), words.Fixed(c.Metres, 0), words.Whole(c.Cones))
	}
	return t
}
