package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"strconv"
	"strings"

	"github.com/alecthomas/kong"
	"golang.org/x/term"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/thread"
)

// Exit statuses; documented in README and tested.
const (
	exitOK      = 0 // all was done
	exitPartial = 1 // something could not be done; the rest was
	exitUsage   = 2 // the command line was wrong; nothing was done
)

// CLI is the root of the command line. A command marked whole speaks of the others (see grammar).
type CLI struct {
	Clock      ClockCmd      `cmd:"" help:"How long a design takes on each machine, and where every second goes."`
	Audit      AuditCmd      `cmd:"" help:"What in a design wastes time or risks breaks, and what each costs."`
	Mend       MendCmd       `cmd:"" help:"A file that sews the same picture in less time."`
	Learn      LearnCmd      `cmd:"" help:"A machine's constants from timed runs: a better sheet, and how sure it is."`
	Listen     ListenCmd     `cmd:"" help:"A recording of a run: when each stitch was sewn, each rest, each interruption."`
	Testpiece  TestpieceCmd  `cmd:"" help:"A stitch file whose blocks, timed, teach most about a machine."`
	Floor      FloorCmd      `cmd:"" help:"What a shift really yields: heads, thread breaks, bobbins, hooping, people."`
	Cost       CostCmd       `cmd:"" help:"What a piece costs, line by line, and what its price must be."`
	Compare    CompareCmd    `cmd:"" help:"Machines compared on your own mix: run time, yield, cost, payback, and which wins what."`
	Trial      TrialCmd      `cmd:"" help:"Machines side by side: the same designs sewn on each, and the paper that decides."`
	Call       CallCmd       `cmd:"" help:"An open call: one design that anybody may sew, and how far each class of machines is off."`
	Visit      VisitCmd      `cmd:"" help:"An adviser's work for a client, kept apart: trials, what comes back, papers."`
	Machines   MachinesCmd   `cmd:"" help:"The built-in machine classes, and sheets to start your own from."`
	Order      OrderCmd      `cmd:"" help:"Orders, from request to delivered, with their history."`
	Quote      QuoteCmd      `cmd:"" help:"What an order costs, piece by piece, and the day that can be promised."`
	Plan       PlanCmd       `cmd:"" help:"Which machine sews what and when; what if; what a move by hand costs."`
	Runsheet   RunsheetCmd   `cmd:"" help:"What the floor needs to sew an order: needles, speed, times, thread, cautions."`
	Today      TodayCmd      `cmd:"" help:"What is on every machine now, what comes next, and who needs a person when."`
	Left       LeftCmd       `cmd:"" help:"How long is left of the run on a machine that stands at a stitch."`
	Find       FindCmd       `cmd:"" help:"Orders, designs, customers, machines and help by the beginnings of words, as the page finds them."`
	History    HistoryCmd    `cmd:"" help:"What was changed in the shop, when, by whom and from where, newest first."`
	Record     RecordCmd     `cmd:"" help:"Pieces, breaks and times from the floor; what they say about the machines."`
	Serve      ServeCmd      `cmd:"" help:"The page: the whole job in a browser, on the shop's own data."`
	Shops      ShopsCmd      `cmd:"" help:"The shops of a place of several, and how one more is made."`
	Backup     BackupCmd     `cmd:"" help:"A checked copy of the shop, also while the page is served."`
	Restore    RestoreCmd    `cmd:"" help:"Put such a copy in the shop's place."`
	Move       MoveCmd       `cmd:"" help:"The shop from a file into a PostgreSQL database or back, counted and compared."`
	Work       WorkCmd       `cmd:"" help:"Large work of a shop in a database, shared by any number of programs."`
	Completion CompletionCmd `cmd:"" whole:"" help:"A script that completes commands and options in your shell."`
	Man        ManCmd        `cmd:"" whole:"" help:"Manual pages, as the man program reads them."`
	Update     UpdateCmd     `cmd:"" help:"Whether there is a newer release; asked by hand only."`
	Version    VersionCmd    `cmd:"" help:"Version and build."`
	Help       HelpCmd       `cmd:"" whole:"" help:"The documentation by topic, and what a command does."`

	ShowVersion versionFlag `name:"version" short:"v" help:"Version and build."`
}

// Ctx is what a command may touch of the world.
type Ctx struct {
	context.Context
	In       io.Reader
	Out, Err io.Writer
}

// ErrTerminal reports whether Err is a terminal: progress bars show only there.
func (c *Ctx) ErrTerminal() bool { return isTerminal(c.Err) }

// OutTerminal reports whether Out is a terminal: colour shows only there.
func (c *Ctx) OutTerminal() bool { return isTerminal(c.Out) }

// OutWidth is the width of the output in columns: the terminal's, or 100.
func (c *Ctx) OutWidth() int { return outWidth(c.Out) }

func outWidth(w io.Writer) int {
	if f, ok := w.(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			return w
		}
	}
	return 100
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// errPartial is returned by a command that reported failures itself and did
// the rest; run turns it into exitPartial without printing it.
var errPartial = errors.New("some of it could not be done")

// usageError is a mistake in the command line that kong cannot see.
type usageError struct{ error }

// Unwrap is the mistake itself.
func (e usageError) Unwrap() error { return e.error }

func usagef(format string, a ...any) error { return usageError{fmt.Errorf(format, a...)} }

// helpVars are the defaults that help names; they live where they are used.
var helpVars = kong.Vars{
	"usualaddress": usualAddress,
	"capframe":     num((&machine.Sheet{}).JobSpeed(machine.CapFrame)),
	"metallic":     num((&machine.Sheet{}).JobSpeed(machine.Metallic)),
	"jobs":         strings.Join(machine.JobNames(), ", "),
	"machine":      ask.DefaultMachine,
	"piecehoop":    fmt.Sprintf("%dx%d", ask.DefaultPieceHoop, ask.DefaultPieceHoop),
	"writable":     strings.Join(stitchfile.Writable(), " or "),
	"seed":         strconv.Itoa(ask.DefaultSeed),
	"level":        num(100 * ask.DefaultLevel),
	"precision":    num(100 * ask.DefaultPrecision),
	"shifts":       strconv.Itoa(ask.DefaultShifts),
	"weeks":        strconv.Itoa(ask.DefaultWeeks),
	"mendseconds":  num(ask.DefaultMendSeconds),
	"thickness":    num(thread.Default.Thickness),
	"pullin":       num(thread.Default.PullIn),
	"tex":          num(thread.Default.Tex),
	"tailtop":      num(thread.Default.TailTop),
	"tailbobbin":   num(thread.Default.TailBobbin),
}

// grammar is what the command line may hold, as kong takes it: of CLI the one command that args begin with, as if there were
// no other, since all of them take longer to make than a design takes to clock. All where args begin with
// no command or with one that speaks of the others.
func grammar(args []string) any {
	if len(args) == 0 {
		return new(CLI)
	}
	all := reflect.TypeFor[CLI]()
	var part []reflect.StructField
	for f := range all.Fields() {
		_, isCommand := f.Tag.Lookup("cmd")
		switch _, ofAll := f.Tag.Lookup("whole"); {
		case !isCommand:
			part = append(part, f)
		case strings.ToLower(f.Name) == args[0] && !ofAll:
			part = append(part, f)
		}
	}
	if len(part) == 1 {
		return new(CLI)
	}
	return reflect.New(reflect.StructOf(part)).Interface()
}

// run is the whole program: arguments in, exit status out.
func run(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer, args []string) (code int) {
	exited := -1
	p, err := kong.New(grammar(args),
		kong.Name("needlepace"),
		kong.Description("How long a design truly takes on each embroidery machine, why, what it costs, and what to "+
			"do about it."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(c int) { exited = c; panic(exitNow{}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		helpVars,
	)
	if err != nil {
		complain(stderr, err)
		return exitUsage
	}
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(exitNow); !ok {
				panic(r)
			}
			code = exited
		}
	}()
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := p.Parse(args)
	if err != nil {
		complain(stderr, err)
		fmt.Fprintln(stderr, "Run `needlepace --help`, or `needlepace COMMAND --help`.")
		return exitUsage
	}
	c := &Ctx{Context: ctx, In: stdin, Out: stdout, Err: stderr}
	for _, f := range k.Flags() {
		if f.Name == "who" {
			c.Context = shop.WithName(ctx, f.Target.String())
		}
	}
	if err = oneForm(k); err == nil {
		err = k.Run(c)
	}
	var usage usageError
	var asked *ask.Error
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, errPartial):
		return exitPartial
	case errors.As(err, &usage), errors.As(err, &asked):
		complain(stderr, err)
		return exitUsage
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "needlepace: stopped before the end")
		return exitPartial
	default:
		complain(stderr, err)
		return exitPartial
	}
}

// oneForm refuses a command that is to answer in two forms at once.
func oneForm(k *kong.Context) error {
	forms := 0
	for _, f := range k.Flags() {
		if (f.Name == "json" || f.Name == "csv") && f.Set {
			forms++
		}
	}
	if forms > 1 {
		return usagef("--json and --csv: choose one")
	}
	return nil
}

type exitNow struct{}
