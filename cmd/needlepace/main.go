// Command needlepace tells how long an embroidery design truly takes on each
// machine, where every second goes, what that costs and what to do about it.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second signal ends the program at once.
	context.AfterFunc(ctx, stop)
	code := run(ctx, os.Stdin, os.Stdout, os.Stderr, os.Args[1:])
	stop()
	os.Exit(code)
}
