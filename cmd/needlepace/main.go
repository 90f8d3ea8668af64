// Command needlepace tells how long an embroidery design truly takes on each
// machine, where every second goes, what that costs and what to do about it.
package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// click serves and opens the page; what is said goes to a file where nobody sees it.
func click(ctx context.Context) int {
	out, errs := io.Writer(os.Stdout), io.Writer(os.Stderr)
	if !isTerminal(os.Stdout) {
		log, err := clickLog()
		if err != nil {
			return exitPartial
		}
		defer log.Close() //nolint:errcheck // the program ends
		out, errs = log, log
	}
	code := clicked(ctx, usualAddress, out, errs, openBrowser)
	if code != exitOK && isTerminal(os.Stdout) { // its window would shut before it is read
		fmt.Fprintln(errs, "Press Enter to end.")
		bufio.NewReader(os.Stdin).ReadString('\n') //nolint:errcheck // any end will do
	}
	return code
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second signal ends the program at once.
	context.AfterFunc(ctx, stop)
	if byClick() {
		os.Exit(click(ctx))
	}
	patient(os.Args[1:])
	code := run(ctx, os.Stdin, os.Stdout, os.Stderr, os.Args[1:])
	stop()
	os.Exit(code)
}
