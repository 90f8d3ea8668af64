package main

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/plan"
	"needlepace/shop"
	"needlepace/shop/setups"
	"needlepace/words"
)

// PlanCmd is about the plan.
type PlanCmd struct {
	Show    PlanShowCmd    `cmd:"" default:"withargs" help:"The plan as it was made last (the default)."`
	Make    PlanMakeCmd    `cmd:"" help:"Plan all agreed orders, and say what moved and why."`
	Thread  PlanThreadCmd  `cmd:"" help:"Thread and bobbins that the plan will use, day by day, to buy from."`
	Costs   PlanCostsCmd   `cmd:"" help:"Lines that the plan sews at a higher cost than they were quoted with."`
	Fleet   PlanFleetCmd   `cmd:"" help:"The last months' book replayed with another fleet: what would be late, refused, and what it costs."`
	Setup   PlanSetupCmd   `cmd:"" help:"Say when and how the shop works: WORKSHOP.toml (docs/orders-and-plan.md)."`
	Hold    PlanHoldCmd    `cmd:"" help:"Hold a line on a machine, whatever the plan would find better."`
	Release PlanReleaseCmd `cmd:"" help:"Let the plan place a line freely, or take it off a machine."`
	Move    PlanMoveCmd    `cmd:"" help:"What it costs to put a line elsewhere by hand. Nothing is changed."`
	Try     PlanTryCmd     `cmd:"" help:"What if: a rush order, a machine down, one more operator. Nothing is kept."`
}

// PlanOut is how a plan is told.
type PlanOut struct {
	JSON    bool        `name:"json" help:"One JSON object."`
	CSV     bool        `name:"csv" help:"One CSV row for each lot."`
	Picture PictureFile `help:"Draw the plan to an .svg or .png file." placeholder:"FILE"`
	ICal    string      `name:"ical" help:"Write the lots as a calendar (iCalendar) to an .ics file." placeholder:"FILE"`
	XLSX    string      `name:"xlsx" help:"Write the plan to an .xlsx workbook." placeholder:"FILE"`
}

func (o PlanOut) check() error {
	return endsIn([3]string{"--ical", o.ICal, ".ics"}, [3]string{"--xlsx", o.XLSX, ".xlsx"})
}

// PlanShowCmd shows the kept plan.
type PlanShowCmd struct {
	ShopFlags
	PlanOut
}

// Run shows it.
func (a *PlanShowCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	return a.use(c, func(d *desk) error {
		p, err := d.Plans.Last(c.Context)
		if err != nil {
			return err
		}
		if p == nil {
			fmt.Fprintln(c.Out, "No plan yet. Make one with `needlepace plan make`.")
			return nil
		}
		ans := ask.PlanOf(p)
		if ans.Since, err = ask.Since(c.Context, d.Asked(), ask.SinceQuestion{Now: d.Now(), Effect: true}); err != nil {
			return err
		}
		return a.tell(d, ans)
	})
}

// PlanMakeCmd makes the plan.
type PlanMakeCmd struct {
	ShopFlags
	PlanOut
	Fresh  bool    `help:"From nothing: what is planned may move freely."`
	Freeze float64 `help:"Hours within which what is planned stays where it is." default:"0" placeholder:"H"`
	Seed   uint64  `help:"Seed of the search: the same seed gives the same plan." default:"1"`
	Moves  int64   `help:"Effort: moves to look at. Default: by the number of lines." placeholder:"N"`
	WhoFlag
}

// Run makes it.
func (a *PlanMakeCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	return a.use(c, func(d *desk) error {
		bar := c.bar("planning", 100)
		ans, err := d.MakePlan(c.Context, ask.PlanQuestion{
			Now: d.Now(), Seed: a.Seed, Moves: a.Moves, Fresh: a.Fresh,
			Freeze:   time.Duration(a.Freeze * float64(time.Hour)),
			Progress: func(p plan.Progress) { bar.Set(int(100 * p.Moves / max(p.Of, 1))) },
		}, a.Who)
		bar.Finish()
		if err != nil {
			return err
		}
		return a.tell(d, ans)
	})
}

// PlanSetupCmd keeps the workshop.
type PlanSetupCmd struct {
	ShopFlags
	File     string `arg:"" optional:"" help:"The workshop's file, WORKSHOP.toml. Left out: the kept one is printed." type:"existingfile"`
	MadeFrom int    `help:"The version that the file was made from: where another is kept by now it is refused." placeholder:"N"`
	WhoFlag
	MakeFlag
}

// Run adds the machines that the shop does not have yet, then keeps the file.
func (a *PlanSetupCmd) Run(c *Ctx) error {
	if a.File == "" {
		return a.use(c, printWorkshop)
	}
	b, err := readSettings(a.File)
	if err != nil {
		return err
	}
	w, err := book.ParseWorkshop(a.File, b)
	if err != nil {
		return err
	}
	return a.useOrMake(c, a.MakeFlag, func(d *desk) error {
		have, err := d.Machines.List(c.Context)
		if err != nil {
			return err
		}
		src := sources(a.File)
		for _, m := range w.Machine {
			if m.Sheet == "" || slices.ContainsFunc(have, func(h *shop.Machine) bool { return h.Name == m.Name }) {
				continue
			}
			sheet, err := src.Sheet(m.Sheet)
			if err != nil {
				return err
			}
			sheet.Name = m.Name
			if _, err := d.Machines.Add(c.Context, string(sheet.TOML()), "from "+filepath.Base(m.Sheet),
				a.Who); err != nil {
				return err
			}
			fmt.Fprintf(c.Out, "machine added: %s, %s\n", m.Name, sheet.Class)
		}
		base, err := a.madeFrom(d)
		if err != nil {
			return err
		}
		if w, err = d.Setups.SaveWorkshop(c.Context, filepath.Base(a.File), string(b), base); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%s: %s, %s kept.\n", title(w.Name), plural(len(w.Shift), "shift"),
			plural(len(w.Machine), "machine"))
		return nil
	})
}

// madeFrom is the version that the file was made from: the one that is said,
// else the kept one where that came from a file too, and not from the page.
func (a *PlanSetupCmd) madeFrom(d *desk) (int, error) {
	version, name, err := d.Setups.WorkshopVersion(d.Context)
	switch {
	case err != nil || a.MadeFrom != 0:
		return a.MadeFrom, err
	case name == setups.OnPage:
		return 0, shop.Errorf(shop.Conflict, "the hours and prices were changed on the page (version %d), and %s would "+
			"undo that: see what is kept with `needlepace plan setup`, put it in, then give --made-from=%d", version,
			filepath.Base(a.File), version)
	}
	return version, nil
}

// printWorkshop prints the kept file with its version.
func printWorkshop(d *desk) error {
	kept, err := d.Setups.Get(d.Context, shop.WorkshopID)
	if shop.CodeOf(err) == shop.NotFound {
		return usagef("no hours and prices are kept yet: give a file, WORKSHOP.toml")
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(d.Err, "Version %d: keep a changed one with --made-from=%d.\n", kept.Version, kept.Version)
	_, err = io.WriteString(d.Out, kept.TOML)
	return err
}

// LineArgs name a line and a machine.
type LineArgs struct {
	Order   string `arg:"" help:"The order's number."`
	Machine string `arg:"" help:"The machine's name."`
	Line    int    `help:"Which line." default:"1"`
}

// PlanHoldCmd holds a line.
type PlanHoldCmd struct {
	ShopFlags
	LineArgs
	At string `help:"Not before this time, and then if it can be, e.g. 2026-03-04T09:00." placeholder:"TIME"`
	WhoFlag
}

// Run holds it.
func (a *PlanHoldCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		o, m, err := d.find(a.Order, a.Machine)
		if err != nil {
			return err
		}
		var at time.Time
		if a.At != "" {
			if at, err = d.w.WallTime(a.At); err != nil {
				return usagef("--at: %v", err)
			}
		}
		if o, err = d.HoldLine(c.Context, act.HoldQuestion{Order: o.ID, Line: a.Line, Machine: m.ID, At: at},
			a.Who); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%d line %d is held on %s. Make the plan anew to see it there.\n", o.Number, a.Line, m.Name)
		return nil
	})
}

// PlanReleaseCmd releases a line.
type PlanReleaseCmd struct {
	ShopFlags
	Order string `arg:"" help:"The order's number."`
	Line  int    `help:"Which line." default:"1"`
	WhoFlag
}

// Run releases it.
func (a *PlanReleaseCmd) Run(c *Ctx) error {
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		if o, err = d.Orders.Release(c.Context, o.ID, a.Line, a.Who); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%d line %d may stand anywhere.\n", o.Number, a.Line)
		return nil
	})
}

// PlanMoveCmd prices a move by hand.
type PlanMoveCmd struct {
	ShopFlags
	LineArgs
	From  string `help:"The machine it is on now, where it is on several." placeholder:"NAME"`
	Place int    `help:"Place in the machine's queue, from 1. Default: last." placeholder:"N"`
	JSON  bool   `name:"json" help:"One JSON object."`
}

// Run prices it.
func (a *PlanMoveCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		o, m, err := d.find(a.Order, a.Machine)
		if err != nil {
			return err
		}
		from, err := d.machineID(a.From)
		if err != nil {
			return err
		}
		mv, err := ask.Move(c.Context, d.Asked(), ask.MoveQuestion{Now: d.Now(), Order: o.ID, Line: a.Line, From: from, To: m.ID,
			Place: a.Place})
		if err != nil {
			return err
		}
		if a.JSON {
			return writeJSON(c.Out, mv)
		}
		moveText(d, mv)
		return nil
	})
}

// PlanTryCmd asks what if.
type PlanTryCmd struct {
	ShopFlags
	PlanOut
	Rush      []string  `help:"An order (requested or quoted, too) taken as agreed; may repeat." placeholder:"NUMBER"`
	Priority  *float64  `help:"The rush orders' priority. Default: 5." placeholder:"N"`
	Due       words.Day `help:"The rush orders' due day. Default: their own." placeholder:"DAY"`
	Down      []string  `help:"A machine that is down: NAME,FROM,TO, e.g. Gannet,2026-03-04T07:00,2026-03-04T15:30; may repeat." sep:"none" placeholder:"NAME,FROM,TO"`
	Operators float64   `help:"More operators in every shift; fewer as --operators=-1." placeholder:"N"`
}

// Run plans it both ways.
func (a *PlanTryCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	q := ask.PlanQuestion{Operators: a.Operators}
	for _, s := range a.Down {
		p := strings.Split(s, ",")
		if len(p) != 3 {
			return usagef("--down %s: give NAME,FROM,TO, e.g. Gannet,2026-03-04T07:00,2026-03-04T15:30", s)
		}
		q.Down = append(q.Down, book.DownTime{Machine: p[0], From: p[1], To: p[2]})
	}
	if len(a.Rush)+len(a.Down) == 0 && a.Operators == 0 {
		return usagef("nothing to try: give --rush, --down or --operators")
	}
	return a.use(c, func(d *desk) error {
		for i := range q.Down {
			m, err := d.Machines.Find(c.Context, q.Down[i].Machine)
			if err != nil {
				return err
			}
			q.Down[i].Machine = m.Name
		}
		for _, r := range a.Rush {
			o, err := d.Orders.Get(c.Context, r)
			if err != nil {
				return err
			}
			q.Rush = append(q.Rush, ask.Rush{Order: o.ID, Priority: a.Priority, Due: a.Due})
		}
		q.Now = d.Now()
		ans, err := ask.Plan(c.Context, d.Asked(), q)
		if err != nil {
			return err
		}
		return a.tell(d, ans)
	})
}
