package pages_test

import (
	"encoding/binary"
	"html"
	"regexp"
	"strings"
	"testing"

	"needlepace/web"
	"needlepace/web/webtest"
)

// The drawing counts stitches as all others do: revolutions without the jumps
// that are sewn through.
func TestTheDrawingCountsStitches(t *testing.T) {
	a := webtest.New(t, web.Options{})
	d := a.DemoDesign("wheel-badge.dst")
	_, page := a.Page("/designs/"+d.ID, nil)
	run := regexp.MustCompile(`data-run="([^"]+)".* data-jumps="([^"]*)"`).FindStringSubmatch(page)
	if run == nil {
		t.Fatal("the page has no run")
	}
	b := a.Send("GET", strings.TrimPrefix(html.UnescapeString(run[1]), "/api/v1"), nil).OK(200).Body
	revolutions, jumps := int(binary.LittleEndian.Uint32(b[4:])), len(strings.Fields(run[2]))
	if jumps == 0 || revolutions-jumps != d.Stitches {
		t.Errorf("%d revolutions less %d jumps, and the design has %d stitches", revolutions, jumps, d.Stitches)
	}
}
