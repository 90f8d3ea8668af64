// Command coverage runs the coverage study of package learn and writes its
// table: ./dev study coverage.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"slices"

	"needlepace/learn/study"
	"needlepace/machine"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "coverage:", err)
		os.Exit(1)
	}
}

func run() error {
	machines := flag.Int("machines", 500, "synthetic machines")
	designs := flag.Int("designs", 20, "held-out designs a machine")
	seed := flag.Uint64("seed", 1, "seed")
	out := flag.String("o", "", "file to write the tables into, between its marks; empty: print them")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "machines at a time")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()

	o, err := study.Run(ctx, study.Options{Machines: *machines, Designs: *designs, Seed: *seed, Workers: *workers,
		Progress: func(done int) {
			if done%10 == 0 {
				fmt.Fprintf(os.Stderr, "\r%d of %d machines ", done, *machines)
			}
		}})
	if err != nil {
		return err
	}
	fmt.Fprintln(os.Stderr)
	write := func(w io.Writer) { report(w, o) }
	if *out == "" {
		write(os.Stdout)
		return nil
	}
	return study.Insert(*out, write)
}

func report(w io.Writer, o *study.Outcome) {
	fmt.Fprintf(w, "%d machines, %d held-out designs each, seed %d. Inside their 90 %% interval: **%.1f %%** of %d runs. "+
		"Median absolute error: **%.2f %%**.\n\n",
		o.Options.Machines, o.Options.Designs, o.Options.Seed, 100*o.Share(), o.Runs, 100*study.Quantile(o.Errors, 0.5))
	var classes []string
	var by []*study.Outcome
	for _, c := range machine.Classes() {
		if p := o.ByClass[c.Name]; p != nil && !slices.Contains(classes, c.Name) {
			classes, by = append(classes, c.Name), append(by, p)
		}
	}
	study.Table(w, "class", append(classes, "**all**"), append(by, o))
	fmt.Fprintf(w, "\nOf %d test pieces %d had an unnoticed interruption; of %d blocks held up for more than 5 s, "+
		"%d were named as suspicious; %d readings were named without that. The normal approximation was replaced by "+
		"drawn machines in %d fits; a misfit of the model was found in %d.\n",
		o.Options.Machines, o.Interrupted, o.Pauses, o.Named, o.False, o.Replaced, o.Misfits)
}
