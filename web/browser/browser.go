// Package browser starts a headless Chromium for the checks and screenshots of
// the page. Nothing of the program itself needs it.
package browser

import (
	"context"
	"errors"
	"os"
	"os/exec"

	"github.com/chromedp/chromedp"
)

// ErrNone says that no Chromium is installed.
var ErrNone = errors.New("no Chromium is installed; install your system's package chromium")

// Find is the path of Chromium.
func Find() (string, error) {
	for _, name := range []string{os.Getenv("CHROMIUM"), "chromium", "chromium-browser", "google-chrome", "chrome"} {
		if name == "" {
			continue
		}
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNone
}

// Start starts a browser with a new, empty profile and gives a context with
// one tab. stop ends the browser and removes the profile.
func Start(parent context.Context) (tab context.Context, stop func(), err error) {
	path, err := Find()
	if err != nil {
		return nil, nil, err
	}
	profile, err := os.MkdirTemp("", "needlepace-browser-*")
	if err != nil {
		return nil, nil, err
	}
	opts := append([]chromedp.ExecAllocatorOption{}, chromedp.DefaultExecAllocatorOptions[:]...)
	opts = append(opts, chromedp.ExecPath(path), chromedp.UserDataDir(profile), chromedp.NoSandbox, chromedp.Headless)
	for _, flag := range []string{"disable-gpu", "disable-quic", "no-first-run", "disable-background-networking",
		"disable-component-update", "disable-sync", "hide-scrollbars", "enable-unsafe-swiftshader"} {
		opts = append(opts, chromedp.Flag(flag, true))
	}
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
