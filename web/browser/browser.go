// Package browser starts a headless Chromium for the checks and screenshots of
// the page. Nothing of the program itself needs it.
package browser

import (
	"bytes"
	"context"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"github.com/chromedp/chromedp"
)

// ErrNone says that no Chromium is installed.
var ErrNone = errors.New("no Chromium is installed; install your system's package chromium")

// Find is the path of Chromium. The one that has no window comes first: it costs half of one that has and
// keeps it out of sight.
func Find() (string, error) {
	for _, name := range []string{os.Getenv("CHROMIUM"), "chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "chrome"} {
		if name == "" {
			continue
		}
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNone
}

// Host is a name that the browsers of Start find this computer by, and which they
// do not take for it as they do localhost.
const Host = "bench.local"

// ErrNoTrust says that a browser cannot be told whom to trust.
var ErrNoTrust = errors.New("certutil is not installed; install your system's package libnss3-tools")

// Start starts a browser with a new, empty profile and gives a context with
// one tab. It trusts the authorities given as a person makes it trust one: they
// are in the certificate database of its home, which is new too. stop ends the
// browser and removes both.
func Start(parent context.Context, trusted ...*x509.Certificate) (tab context.Context, stop func(), err error) {
	return start(parent, nil, trusted)
}

// StartHearing is Start with a microphone that hears a WAV file once, and is
// allowed without being asked for.
func StartHearing(parent context.Context, wav string) (tab context.Context, stop func(), err error) {
	return start(parent, []chromedp.ExecAllocatorOption{chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-file-for-fake-audio-capture", wav+"%noloop"),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required")}, nil)
}

func start(
	parent context.Context, more []chromedp.ExecAllocatorOption, trusted []*x509.Certificate,
) (tab context.Context, stop func(), err error) {
	path, err := Find()
	if err != nil {
		return nil, nil, err
	}
	profile, err := os.MkdirTemp("", "needlepace-browser-*")
	if err != nil {
		return nil, nil, err
	}
	if err := trust(parent, profile, trusted); err != nil {
		return nil, nil, errors.Join(err, os.RemoveAll(profile))
	}
	opts := append([]chromedp.ExecAllocatorOption{}, chromedp.DefaultExecAllocatorOptions[:]...)
	opts = append(opts, chromedp.ExecPath(path), chromedp.UserDataDir(profile), chromedp.NoSandbox, chromedp.Headless,
		chromedp.Env("HOME="+profile))
	for _, flag := range []string{"disable-gpu", "disable-quic", "no-first-run", "disable-background-networking",
		"disable-component-update", "disable-sync", "hide-scrollbars", "enable-unsafe-swiftshader"} {
		opts = append(opts, chromedp.Flag(flag, true))
	}
	opts = append(opts, chromedp.Flag("host-resolver-rules", "MAP "+Host+" 127.0.0.1"), chromedp.Flag("lang", "en-US"),
		chromedp.Flag("accept-lang", "en-US"))
	opts = append(opts, more...)
	alloc, stopAlloc := chromedp.NewExecAllocator(parent, opts...)
	tab, stopTab := chromedp.NewContext(alloc)
	stop = func() {
		stopTab()
		stopAlloc()
		os.RemoveAll(profile)
	}
	if err := chromedp.Do(tab); err != nil {
		stop()
		return nil, nil, err
	}
	return tab, stop, nil
}

// Print is the page of a tab as it is printed on "a4" or "letter", a PDF: with the
// page's own margins, without coloured grounds, as printers have it at first.
func Print(ctx context.Context, paper string) ([]byte, error) {
	size, ok := map[string]chromedp.PaperSize{"a4": chromedp.PaperA4, "letter": chromedp.PaperLetter}[paper]
	if !ok {
		return nil, fmt.Errorf("no paper is called %q; there are a4 and letter", paper)
	}
	return chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size)))
}

// trust makes the certificate database of a home with authorities in it.
func trust(ctx context.Context, home string, trusted []*x509.Certificate) error {
	if len(trusted) == 0 {
		return nil
	}
	tool, err := exec.LookPath("certutil")
	if err != nil {
		return ErrNoTrust
	}
	db := filepath.Join(home, ".pki", "nssdb")
	if err := os.MkdirAll(db, 0o700); err != nil {
		return err
	}
	run := func(in []byte, args ...string) error {
		cmd := exec.CommandContext(ctx, tool, append(args, "-d", "sql:"+db)...)
		cmd.Stdin = bytes.NewReader(in)
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("certutil %v: %w: %s", args, err, out)
		}
		return nil
	}
	if err := run(nil, "-N", "--empty-password"); err != nil {
		return err
	}
	for i, c := range trusted {
		in := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})
		if err := run(in, "-A", "-n", fmt.Sprintf("authority %d", i), "-t", "C,,"); err != nil {
			return err
		}
	}
	return nil
}
