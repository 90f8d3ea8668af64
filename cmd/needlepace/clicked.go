package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// clicked serves the page and opens it in the browser: what happens when somebody
// opens the program by a double click. Where the page is served already it is only opened.
func clicked(ctx context.Context, address string, stdout, stderr io.Writer, open func(url string) error) int {
	if pageAt(ctx, "http://"+address) {
		if err := open("http://" + address); err != nil {
			complain(stderr, err)
			return exitPartial
		}
		return exitOK
	}
	out, tell := io.Pipe()
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			fmt.Fprintln(stdout, lines.Text())
			if at, ok := strings.CutPrefix(lines.Text(), "needlepace is at "); ok {
				if err := open(at); err != nil {
					complain(stderr, fmt.Errorf("no browser opened (%w); open %s yourself", err, at))
				}
			}
		}
	}()
	defer tell.Close() //nolint:errcheck // a pipe
	return run(ctx, strings.NewReader(""), tell, stderr, []string{"serve", "--address", address})
}

// pageAt reports whether the page is served there.
func pageAt(ctx context.Context, at string) bool {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, at+"/healthz", nil)
	if err != nil {
		return false
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return false
	}
	defer res.Body.Close() //nolint:errcheck // only its head is read
	return res.StatusCode == http.StatusOK && res.Header.Get("X-Request-Id") != ""
}

// openBrowser opens an address as the system does.
func openBrowser(url string) error {
	cmd := exec.Command("xdg-open", url)
	switch runtime.GOOS {
	case "windows":
		cmd = exec.Command("rundll32", "url.dll,FileProtocolHandler", url)
	case "darwin":
		cmd = exec.Command("open", url)
	}
	return cmd.Start()
}

// clickLog is where what the program says goes when nobody sees it: beside the shop.
func clickLog() (io.WriteCloser, error) {
	path, err := DataFlag{}.file()
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	return os.OpenFile(filepath.Join(filepath.Dir(path), "needlepace.log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
}
