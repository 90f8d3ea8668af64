package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
)

func sampleShift() *Shift {
	return &Shift{Name: "A shift", Rows: []ShiftRow{
		{Label: "Bay 1", Note: "6 heads", After: "120 pieces",
			Spans: []Span{{UseRunning, 18000}, {UseWaiting, 2000}, {UseBreaks, 900}, {UseLoading, 5200},
				{UsePause, 2700}}},
		{Label: "Bay 2", After: "40 pieces", Spans: []Span{{UseRunning, 9000}, {UseNoWork, 19800}}},
	}}
}

func TestShiftStripsNameEveryUse(t *testing.T) {
	var b bytes.Buffer
	if err := SVG(&b, &Stack{Name: "both", Pictures: []Picture{sampleShift(), sampleShift()}}, Light()); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"sewing", "waiting for an operator", "thread breaks", "loading", "pause", "no work", "120 pieces"} {
		if strings.Count(b.String(), want) < 2 {
			t.Errorf("%q is not in both pictures", want)
		}
	}
	w1, h1 := sampleShift().Size()
	if w, h := (&Stack{Pictures: []Picture{sampleShift(), sampleShift()}}).Size(); w != w1 || h != 2*h1+stackGap {
		t.Errorf("stack of two is %g × %g", w, h)
	}
}

func TestShiftBarHasTheStripsLength(t *testing.T) {
	for _, r := range sampleShift().Rows {
		for _, ascii := range []bool{false, true} {
			ts := TextStrip{Width: 48, ASCII: ascii}
			if n := len([]rune(ts.ShiftBar(r.Spans))); n != 48 {
				t.Errorf("%s: %d cells", r.Label, n)
			}
		}
	}
	if s := (TextStrip{Width: 10}).ShiftBar(nil); s != "" {
		t.Errorf("an empty shift drew %q", s)
	}
}
