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
	machines := flag.Int("machines", 500, "synthetic machines that behave as the model")
	wrong := flag.Int("wrong", 60, "synthetic machines for each departure from the model")
	designs := flag.Int("designs", 20, "held-out designs a machine")
	seed := flag.Uint64("seed", 1, "seed")
	out := flag.String("o", "", "file to write the tables into, between its marks; empty: print them")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "machines at a time")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()

	var outs []*study.Outcome
	var names []string
	for i, k := range study.Controllers() {
		n := *wrong
		if i == 0 {
			n = *machines
		}
		o, err := study.Run(ctx, study.Options{Machines: n, Designs: *designs, Controller: k, Seed: *seed,
			Workers: *workers, Progress: func(done int) {
				if done%10 == 0 {
					fmt.Fprintf(os.Stderr, "\r%s: %d of %d machines ", k.Name, done, n)
				}
			}})
		if err != nil {
			return err
		}
		fmt.Fprintln(os.Stderr)
		names, outs = append(names, k.Name), append(outs, o)
	}
	write := func(w io.Writer) { report(w, names, outs) }
	if *out == "" {
		write(os.Stdout)
		return nil
	}
	return study.Insert(*out, write)
}

func report(w io.Writer, names []string, outs []*study.Outcome) {
	o := outs[0]
	fmt.Fprintf(w, "%d machines, %d held-out designs each, seed %d. Inside their 90 %% interval: **%.1f %%** of %d runs. Median absolute error: **%.2f %%**.\n\n",
		o.Options.Machines, o.Options.Designs, o.Options.Seed, 100*o.Share(), o.Runs, 100*study.Quantile(o.Errors, 0.5))
	var classes []string
	var by []*study.Outcome
	for _, c := range machine.Classes() {
		if p := o.ByClass[c.Name]; p != nil && !slices.Contains(classes, c.Name) {
			classes, by = append(classes, c.Name), append(by, p)
		}
	}
	study.Table(w, "class", append(classes, "**all**"), append(by, o))
	fmt.Fprintf(w, "\nOf %d test pieces %d had an unnoticed interruption; of %d blocks held up for more than 5 s, %d were named as suspicious; %d readings were named without that. The normal approximation was replaced by drawn machines in %d fits; a misfit of the model was found in %d.\n\n",
		o.Options.Machines, o.Interrupted, o.Pauses, o.Named, o.False, o.Replaced, o.Misfits)
	study.Table(w, "the machine's controller", names, outs)
	fmt.Fprint(w, "\nMisfit found: ")
	for i, o := range outs {
		if i > 0 {
			fmt.Fprint(w, "; ")
		}
		fmt.Fprintf(w, "%s, %d of %d", names[i], o.Misfits, o.Options.Machines)
	}
	fmt.Fprintln(w, ".")
}
