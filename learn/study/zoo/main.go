// Command zoo judges learning by machines that are not the model and writes
// its tables: ./dev study zoo.
package main

import (
	"cmp"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"needlepace/learn"
	"needlepace/learn/study"
	"needlepace/learn/zoo"
	"needlepace/stitchfile"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "zoo:", err)
		os.Exit(1)
	}
}

// The machines a family of the short and of the long form. With 200 the share
// inside is known to ± 4 points.
const (
	short = 30
	long  = 200

	quick = -1 // draws of a fit: none, a third of the time
)

func run() error {
	families := flag.String("family", "model,likely,other,no term", "families, or kinds of them, with commas, or none")
	slips := flag.String("slip", "all", "slips with commas, all or none")
	isLong := flag.Bool("long", false, fmt.Sprintf("%d machines a family, not %d", long, short))
	machines := flag.Int("machines", 0, "machines a family; 0: as the form has it")
	classes := flag.String("class", "compact-8,compact-10-light,single-15-light,single-15-1200,multi-6,multi-12,"+
		"multi-20,multi-20-slow", "classes, by turns")
	seed := flag.Uint64("seed", 1, "seed")
	vary := flag.Float64("vary", learn.RunToRun, "how much a timed run differs from the machine's own time, relative")
	unseen := flag.Float64("vary-unseen", learn.RunToRun, "how much an unseen run does")
	draws := flag.Int("draws", quick, "draws that check a fit; 0 as usual, as the long form has, negative none (quicker)")
	data := flag.String("data", "../shared/data/real", "directory of real designs")
	out := flag.String("o", "", "page to write the tables into, between its marks")
	keep := flag.String("rows", "", "file that keeps the rows: what was run before with the same seed and machines stands in the tables too")
	each := flag.Bool("each", false, "a line for each machine too")
	follow := flag.Bool("follow", false, "of machines that are badly off do what learning says to time next, and learn anew")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "machines at a time")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()

	picked := zoo.Pick(*families)
	if picked == nil && *families != "none" {
		return fmt.Errorf("-family %s: the families are %s", *families, names(zoo.Families,
			func(f zoo.Family) string { return f.Name }))
	}
	var wrong []*zoo.Slip
	for i := range zoo.Slips {
		s := &zoo.Slips[i]
		if *slips == "all" || strings.Contains(","+*slips+",", ","+s.Name+",") {
			wrong = append(wrong, s)
		}
	}
	if len(wrong) == 0 && *slips != "none" {
		return fmt.Errorf("-slip %s: the slips are %s", *slips, names(zoo.Slips, func(s zoo.Slip) string { return s.Name }))
	}
	opt := zoo.Options{Machines: short, Classes: strings.Split(*classes, ","), Seed: *seed, Workers: *workers,
		Vary: *vary, VaryUnseen: *unseen}
	opt.Fit.Draws, opt.Follow = *draws, *follow
	switch {
	case *machines > 0:
		opt.Machines = *machines
	case *isLong:
		opt.Machines = long
	}
	if *isLong && *draws == quick {
		opt.Fit.Draws = 0
	}
	var ok bool
	if opt.Timed, opt.Unseen, ok = zoo.Choose(read(*data)); !ok {
		fmt.Printf("The study predicts real designs, and %s has not enough of them: nothing was done.\n", *data)
		return nil
	}
	s, err := zoo.NewStudy(ctx, opt)
	if err != nil {
		return err
	}
	all := &kept{Seed: opt.Seed, Machines: opt.Machines}
	if err := all.add(*keep, nil, nil); err != nil {
		return err
	}
	fmt.Println(head)
	for _, f := range picked {
		l, err := s.Run(ctx, f, nil)
		if err != nil {
			return err
		}
		r := row{f.Name, string(f.Kind), f.What, zoo.Sum(l)}
		if err := all.add(*keep, []row{r}, nil); err != nil {
			return err
		}
		fmt.Println(r.line())
		if *each {
			perMachine(l)
		}
	}
	for _, w := range wrong {
		l, err := s.Run(ctx, zoo.Pick("model")[0], w)
		if err != nil {
			return err
		}
		r := row{w.Name, "slip", w.What, zoo.Sum(l)}
		if err := all.add(*keep, nil, []row{r}); err != nil {
			return err
		}
		fmt.Println(r.line())
		if *each {
			perMachine(l)
		}
	}
	fmt.Println()
	goals(os.Stdout, all.Rows, all.Slips)
	if *out == "" {
		return nil
	}
	return study.Insert(*out, func(w io.Writer) { page(w, &opt, all.Rows, all.Slips) })
}

func names[T any](all []T, name func(T) string) string {
	var out []string
	for _, a := range all {
		out = append(out, name(a))
	}
	return strings.Join(out, ", ")
}

// read reads the stitch files of a directory; those that cannot be read are left out.
func read(dir string) (all []zoo.Named) {
	paths, _ := filepath.Glob(filepath.Join(dir, "*"))
	for _, p := range paths {
		files, err := stitchfile.ReadFile(p)
		if err != nil {
			continue
		}
		for _, f := range files {
			if f.Err == nil && f.Design != nil {
				all = append(all, zoo.Named{Name: filepath.Base(p), Design: f.Design})
			}
		}
	}
	return all
}

// row is a family, or a slip on machines of the model.
type row struct {
	Name, Kind, What string
	zoo.Summary
}

// kept is what several runs of the study have made.
type kept struct {
	Seed     uint64
	Machines int // a family
	Rows     []row
	Slips    []row
}

// add puts rows to those that are here and in a file ("": none), in the order of the zoo, in place of those of the same name.
func (k *kept) add(path string, rows, slips []row) error {
	if text, err := os.ReadFile(path); err == nil {
		had := *k
		if err := json.Unmarshal(text, &had); err != nil || had.Seed != k.Seed || had.Machines != k.Machines {
			return fmt.Errorf("%s has no rows of seed %d with %d machines: name another file", path, k.Seed, k.Machines)
		}
		*k = had
	}
	order := func(name string) int {
		return max(slices.IndexFunc(zoo.Families, func(f zoo.Family) bool { return f.Name == name }),
			slices.IndexFunc(zoo.Slips, func(s zoo.Slip) bool { return s.Name == name }))
	}
	merge := func(had, now []row) []row {
		had = slices.DeleteFunc(had, func(r row) bool {
			return slices.ContainsFunc(now, func(n row) bool { return n.Name == r.Name })
		})
		had = append(had, now...)
		slices.SortFunc(had, func(a, b row) int { return cmp.Compare(order(a.Name), order(b.Name)) })
		return had
	}
	k.Rows, k.Slips = merge(k.Rows, rows), merge(k.Slips, slips)
	text, err := json.Marshal(k)
	if err != nil || path == "" {
		return err
	}
	return os.WriteFile(path, text, 0o644)
}

const head = "family         kind      n  median    p90  worst  inside   half  suspect  said  off said-off named asked meant   fit"

func (r *row) line() string {
	return fmt.Sprintf("%-14s %-7s %3d %6.2f%% %5.1f%% %5.1f%% %6.1f%% %5.2f%% %8.2f %5d %4d %8d %5d %5d %4.0f%% %4.1fs", r.Name,
		r.Kind, r.Machines, 100*r.Median, 100*r.P90, 100*r.Worst, 100*r.Inside, 100*r.Half, r.Suspects, r.Said, r.Off,
		r.SaidOff, r.Named, r.Asked, r.insideMeant(), r.Fit.Seconds())
}

// insideMeant is the share inside with the answer yes, per cent.
func (r *row) insideMeant() float64 { return 100 * float64(r.InsideMeant) / float64(max(r.OfMeant, 1)) }

// perMachine says of each machine how far off it is and where most.
func perMachine(all []zoo.Learned) {
	for k := range all {
		l := &all[k]
		worst, inside := l.Unseen[0], 0
		for _, p := range l.Unseen {
			if p.Error*p.Error > worst.Error*worst.Error {
				worst = p
			}
			if p.Inside {
				inside++
			}
		}
		fmt.Printf("  %3d %-16s p90 %5.2f%%  worst %+6.2f%% ± %.2f%% (%s at %.0f)  %d of %d inside  "+
			"%d suspect, said %v\n", k, l.Class, 100*l.Off(), 100*worst.Error, 100*worst.Half, worst.Design, worst.Speed,
			inside, len(l.Unseen), l.Suspects, l.Says)
		if l.Then != nil {
			fmt.Printf("        %s: median %.2f -> %.2f %%, p90 %.2f -> %.2f %%, worst %.2f -> %.2f %%\n", l.Advice,
				100*zoo.ErrorAt(l.Unseen, 0.5), 100*zoo.ErrorAt(l.Then, 0.5), 100*l.Off(), 100*zoo.ErrorAt(l.Then, 0.9),
				100*zoo.ErrorAt(l.Unseen, 1), 100*zoo.ErrorAt(l.Then, 1))
		}
		fmt.Printf("        %s: within %.2f %%, elsewhere %.2f %%\n", l.Verdict.Fits, 100*l.Verdict.Within, 100*l.Verdict.Elsewhere)
		for i, b := range l.Believed {
			if b.Weight > 0.05 || i < 2 {
				fmt.Printf("        %v %.2f score %.1f error %.2f%%\n", b.Terms, b.Weight, b.Score, 100*b.Error)
			}
		}
	}
}

// goals holds the rows against what learning must reach.
func goals(w io.Writer, rows, slips []row) {
	var median, p90, low []string
	inside, fitted, off, saidOff, none, saidNone, asked, machines := 0.0, 0, 0, 0, 0, 0, 0, 0
	for _, r := range rows {
		asked, machines = asked+r.Asked, machines+r.Machines
		off, saidOff = off+r.Off, saidOff+r.SaidOff
		switch zoo.Kind(r.Kind) {
		case zoo.NoTerm:
			none, saidNone = none+r.Off, saidNone+r.SaidOff
			continue
		case zoo.Model:
			fmt.Fprintf(w, "- The model: median %.2f %% (at most 0.15), half-width ± %.2f %% (at most 1), %.0f %% inside "+
				"(87 to 97), said not to fit %d of %d (at most 1 in 20), asked about slips that were none %d of %d (at most 1 in 50).\n",
				100*r.Median, 100*r.Half, 100*r.Inside, r.Said, r.Machines, r.Asked, r.Machines)
			continue
		}
		fitted++
		inside += r.Inside
		for _, c := range []struct {
			list *[]string
			miss bool
		}{{&median, r.Median > 0.005}, {&p90, r.P90 > 0.02}, {&low, r.Inside < 0.8}} {
			if c.miss {
				*c.list = append(*c.list, r.Name)
			}
		}
	}
	named := func(l []string) string {
		if len(l) == 0 {
			return "none"
		}
		return strings.Join(l, ", ")
	}
	if fitted > 0 {
		fmt.Fprintf(w, "- %d families that a law can fit: %.0f %% inside in the mean (87 to 95). Below 80 %%: %s. "+
			"Median above 0.5 %%: %s. 90th percentile above 2 %%: %s.\n", fitted, 100*inside/float64(fitted), named(low), named(median), named(p90))
	}
	fmt.Fprintf(w, "- Off by more than 3 %%, all families: said of %d in %d machines; of those that no term fits %d in %d (9 in 10).\n",
		saidOff, off, saidNone, none)
	fmt.Fprintf(w, "- Asked about slips where nobody slipped, all families: %d of %d (at most 1 in 50).\n", asked, machines)
	if len(slips) > 0 {
		named, of := 0, 0
		for _, r := range slips {
			named, of = named+r.Named, of+r.Machines
		}
		fmt.Fprintf(w, "- Slips: a spoilt row named in %d of %d (9 in 10).\n", named, of)
	}
}

// page writes the tables of docs/study-zoo.md.
func page(w io.Writer, opt *zoo.Options, rows, slips []row) {
	fmt.Fprintf(w, "%d machines a family, seed %d; each timed on its class's test piece and %d designs, then judged by "+
		"%d unseen designs at two speeds.\n\n", opt.Machines, opt.Seed, len(opt.Timed), len(opt.Unseen))
	table := func(columns string, rows []row, first, last func(*row) string) {
		fmt.Fprintf(w, "%s\n|%s\n", columns, strings.Repeat("---|", strings.Count(columns, "|")-1))
		for i := range rows {
			r := &rows[i]
			fmt.Fprintf(w, "| %s | %s | %.2f %% | %.1f %% | %.1f %% | %.0f %% | ± %.2f %% | %.1f | %s |\n", first(r), r.What,
				100*r.Median, 100*r.P90, 100*r.Worst, 100*r.Inside, 100*r.Half, r.Suspects, last(r))
		}
	}
	const figures = "median error | 90 % below | worst | inside 90 % | half-width | suspect rows"
	table("| family | kind | what it does | "+figures+" | asked about | said | off: said | one fit |", rows,
		func(r *row) string { return r.Name + " | " + r.Kind },
		func(r *row) string {
			return fmt.Sprintf("%d | %d | %d of %d | %.1f s", r.Asked, r.Said, r.SaidOff, r.Off, r.Fit.Seconds())
		})
	if len(slips) > 0 {
		fmt.Fprint(w, "\nSlips of the person, on machines of the model:\n\n")
		table("| slip | what happened | "+figures+" | a spoilt row named | asked about | inside then |", slips,
			func(r *row) string { return r.Name },
			func(r *row) string {
				return fmt.Sprintf("%d of %d | %d of %d | %.0f %%", r.Named, r.Machines, r.Asked, r.Machines,
					r.insideMeant())
			})
	}
	fmt.Fprint(w, "\nAgainst the goals:\n\n")
	goals(w, rows, slips)
}
