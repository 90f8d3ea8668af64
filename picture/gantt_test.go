package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

const hour = 3600.0

func sampleGantt() *Gantt {
	open := []GanttSpan{{0, 8 * hour}, {24 * hour, 32 * hour}}
	return &Gantt{Name: "A plan", Text: "Two machines, two days.",
		Ticks: []GanttTick{{0, "Mon 2"}, {24 * hour, "Tue 3"}}, Rows: []GanttRow{
			{Label: "Bay 1", Note: "6 heads", Open: open, Bars: []GanttBar{
				{Label: "1001", Title: "1001, 60 pieces", Setup: 0, From: 0, To: 5 * hour, Running: true},
				{Label: "1003", Title: "1003, 90 pieces, late", Setup: 5 * hour, From: 5.5 * hour, To: 28 * hour,
					Late: true},
			}},
			{Label: "Bay 2", Open: open, Bars: []GanttBar{{Label: "1002", Title: "1002, 20 pieces", Setup: 24 * hour,
				From: 25 * hour, To: 31 * hour, Held: true}}},
		}}
}

func TestGanttNamesEveryLotAndMark(t *testing.T) {
	var b bytes.Buffer
	if err := SVG(&b, sampleGantt(), Light()); err != nil {
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
	for _, want := range []string{"Bay 1", "1003, 90 pieces, late", ">1002<", ">1003 !<", "set-up", "held by hand", "on the machine now", "late !", "Tue 3"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is not in the picture", want)
		}
	}
}

func TestGanttSqueezesTheNightOnly(t *testing.T) {
	q := sampleGantt().squeeze()
	const w, gap = 165.0, 5.0 // 16 open hours on 160 px
	for _, c := range []struct{ t, want float64 }{
		{0, 0}, {4 * hour, 40}, {8 * hour, 80}, {12 * hour, 85}, {24 * hour, 85}, {28 * hour, 125}, {32 * hour,
			165}, {99 * hour, 165},
	} {
		if x := q.x(c.t, w, gap); math.Abs(x-c.want) > 1e-9 {
			t.Errorf("hour %g stands at %g px, want %g", c.t/hour, x, c.want)
		}
	}
}

func TestGanttForATerminal(t *testing.T) {
	days, rows := TextStrip{Width: 33}.GanttBars(sampleGantt()) // 2 cells an hour and a night's blank
	want := []string{
		"Mon 2            Tue 3",
		"[1001━━━━]▒[1003━━━━━━━━!········",
		"················ ▒▒[1002━━━━━━]··",
	}
	got := append([]string{days}, rows...)
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("line %d:\n got %q\nwant %q", i, got[i], want[i])
		}
	}
}

func TestGanttNeverLosesOrderOfTimes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		g := &Gantt{}
		for range rapid.IntRange(1, 4).Draw(r, "rows") {
			row := GanttRow{Label: "m"}
			at := 0.0
			for range rapid.IntRange(0, 6).Draw(r, "windows") {
				from := at + rapid.Float64Range(0, 20*hour).Draw(r, "closed")
				at = from + rapid.Float64Range(1, 10*hour).Draw(r, "open")
				row.Open = append(row.Open, GanttSpan{from, at})
			}
			end := 0.0
			for range rapid.IntRange(0, 5).Draw(r, "bars") {
				set := end + rapid.Float64Range(0, hour).Draw(r, "idle")
				from := set + rapid.Float64Range(0, hour).Draw(r, "setup")
				end = from + rapid.Float64Range(1, 30*hour).Draw(r, "work")
				row.Bars = append(row.Bars, GanttBar{Label: "1", Setup: set, From: from, To: end})
			}
			g.Rows = append(g.Rows, row)
		}
		q := g.squeeze()
		last := -1.0
		for k := range 200 {
			x := q.x(float64(k)*hour, 800, 2)
			if x < last || math.IsNaN(x) || x > 800+1e-6 {
				r.Fatalf("hour %d stands at %g after %g", k, x, last)
			}
			last = x
		}
		_, rows := TextStrip{Width: 70}.GanttBars(g)
		for _, line := range rows {
			if len([]rune(line)) > 70 {
				r.Fatalf("%q is longer than asked", line)
			}
		}
		var b bytes.Buffer
		if err := SVG(&b, g, Light()); err != nil {
			r.Fatal(err)
		}
	})
}
