package main

import (
	"fmt"
	"strings"

	"needlepace/floor"
	"needlepace/picture"
	"needlepace/words"
)

// useOf is each state of a machine as the strip shows it.
var useOf = [floor.NumStates]picture.Use{
	floor.Running: picture.UseRunning, floor.Waiting: picture.UseWaiting, floor.WaitHoop: picture.UseWaitHoop,
	floor.Repair: picture.UseBreaks, floor.Bobbins: picture.UseBobbins, floor.Attending: picture.UseStops,
	floor.Loading: picture.UseLoading, floor.Changeover: picture.UseChangeover, floor.Pausing: picture.UsePause, floor.NoWork: picture.UseNoWork,
}

func machineSpans(m *floor.MachineResult) (out []picture.Span) {
	for st, s := range m.Seconds {
		out = append(out, picture.Span{Use: useOf[st], Seconds: s})
	}
	return out
}

func handSpans(r *floor.Result, o int) []picture.Span {
	h := r.Hands[o]
	return []picture.Span{{Use: picture.UseMachines, Seconds: h.Machines}, {Use: picture.UseHooping, Seconds: h.Hooping},
		{Use: picture.UseWalking, Seconds: h.Walking}, {Use: picture.UseIdle, Seconds: r.Length - h.Away - h.Machines - h.Hooping - h.Walking},
		{Use: picture.UsePause, Seconds: h.Away}}
}

// picture is the shift as strips, and how single shifts are spread.
func (ans *floorAnswer) picture() picture.Picture {
	p := &picture.Shift{Name: title(ans.Shop.Name) + ": where the shift goes"}
	for i := range ans.Machines {
		m := &ans.Machines[i]
		p.Rows = append(p.Rows, picture.ShiftRow{Label: m.Name, Note: plural(ans.Shop.Machines[i].Heads, "head"),
			Spans: machineSpans(m), After: fmt.Sprintf("%.0f pieces", m.Pieces.Mean)})
	}
	hands := &picture.Shift{Name: "Where the operators' time goes"}
	for o := range ans.Hands {
		hands.Rows = append(hands.Rows, picture.ShiftRow{Label: ans.Shop.Operators[o].Name, Spans: handSpans(ans.Result, o), After: percent(ans.HandUse(o)) + " busy"})
	}
	return &picture.Stack{Name: p.Name, Pictures: []picture.Picture{p, hands, &picture.Histogram{
		Name: "Pieces of a shift", Text: fmt.Sprintf("%s shifts simulated, %.0f on average", thousands(ans.Replications), ans.Pieces.Mean),
		Axis: picture.Axis{Label: "pieces"}, Values: ans.ByShift, Low: ans.Pieces.From, High: ans.Pieces.To,
		Between: fmt.Sprintf("%.0f %% of shifts", 100*ans.Level), Width: 800,
	}}}
}

func title(name string) string {
	if name == "" {
		return "The shop"
	}
	return name
}

func count(x float64) string {
	if x >= 99.95 {
		return words.Fixed(x, 0).Text(nil)
	}
	return words.Fixed(x, 1).Text(nil)
}

func (ans *floorAnswer) text(c *Ctx) error {
	w, r := c.Out, ans.Result
	fmt.Fprintf(w, "%s: a shift of %s, %s, %s\n\n", title(r.Shop.Name), picture.LongTime(r.Length), plural(len(r.Machines), "machine"), plural(len(r.Hands), "operator"))
	fmt.Fprintf(w, "  %s pieces   %.0f %% of shifts between %.0f and %.0f\n", count(r.Pieces.Mean), 100*r.Level, r.Pieces.From, r.Pieces.To)
	fmt.Fprintf(w, "  %s of them good; another %.1f pieces' worth of sewing is under way at the end\n", count(r.Good.Mean), r.Left)
	fmt.Fprintf(w, "  the mean is known to ± %.2g pieces from %s simulated shifts, seed %d\n", r.Pieces.Half(), thousands(r.Replications), ans.seed)
	if !r.Narrow {
		fmt.Fprintln(w, "  ! not as narrow as asked: raise --most or --precision")
	}
	fmt.Fprintln(w)
	ts := picture.TextStrip{Width: max(16, min(c.OutWidth()-66, 48)), Colour: c.OutTerminal()}
	t := table{align: "lrrrrrrl"}
	t.row("machine", "heads", "pieces", fmt.Sprintf("%.0f %% between", 100*r.Level), "sewing", "breaks", "OEE", "where the shift goes")
	t.rule()
	var all [][]picture.Span
	for i := range r.Machines {
		m := &r.Machines[i]
		spans := machineSpans(m)
		all = append(all, spans)
		t.row(m.Name, fmt.Sprint(r.Shop.Machines[i].Heads), count(m.Pieces.Mean), fmt.Sprintf("%.0f and %.0f", m.Pieces.From, m.Pieces.To),
			percent(m.Seconds[floor.Running]/r.Length), fmt.Sprintf("%.1f", m.Breaks), percent(m.OEE.OEE), ts.ShiftBar(spans))
	}
	t.write(w)
	fmt.Fprintf(w, "\n%s\n\n", ts.ShiftLegend(all...))
	ans.states(c)
	fmt.Fprintf(w, "\nby ISO 22400-2: availability %s × effectiveness %s × quality %s = OEE %s\n", percent(r.OEE.Availability),
		percent(r.OEE.Effectiveness), percent(r.OEE.Quality), percent(r.OEE.OEE))
	fmt.Fprintln(w, "effectiveness is against stitches ÷ set speed on every head")
	if len(r.Jobs) > 1 || r.Shop.Jobs[0].Quantity > 0 {
		fmt.Fprintln(w)
		t := table{align: "lrr"}
		t.row("job", "pieces", "ordered")
		t.rule()
		for j, n := range r.Jobs {
			ordered := "as many as it yields"
			if q := r.Shop.Jobs[j].Quantity; q > 0 {
				ordered = thousands(q)
			}
			t.row(r.Shop.Jobs[j].Name, count(n), ordered)
		}
		t.write(w)
	}
	fmt.Fprintln(w)
	ht := table{align: "lrrrrr"}
	ht.row("operator", "busy", "at machines", "hooping", "walking", "free")
	ht.rule()
	for o, h := range r.Hands {
		there := r.Length - h.Away
		share := func(s float64) string { return percent(s / there) }
		ht.row(r.Shop.Operators[o].Name, share(h.Machines+h.Hooping+h.Walking), share(h.Machines), share(h.Hooping), share(h.Walking), share(there-h.Machines-h.Hooping-h.Walking))
	}
	ht.write(w)
	if r.Calls > 0 {
		fmt.Fprintf(w, "machines call %s times a shift; %s of the calls are not answered at once\n", count(r.Calls), percent(r.Waited/r.Calls))
	}
	ans.changesText(c)
	ans.crewsText(c)
	fmt.Fprintln(w, "\nFollow each machine's manual and local rules on leaving a running machine: needle and frame move without warning.")
	return nil
}

// states is where each machine's shift goes, in minutes.
func (ans *floorAnswer) states(c *Ctx) {
	r := ans.Result
	t := table{align: "lrrrrrrrrrr"}
	head := []string{"minutes of"}
	var shown []floor.State
	for st := range floor.NumStates {
		sum := 0.0
		for _, m := range r.Machines {
			sum += m.Seconds[st]
		}
		if sum >= 6 { // a tenth of a minute
			shown = append(shown, st)
			head = append(head, useOf[st].Name())
		}
	}
	t.row(head...)
	t.rule()
	for _, m := range r.Machines {
		row := []string{m.Name}
		for _, st := range shown {
			row = append(row, fmt.Sprintf("%.1f", m.Seconds[st]/60))
		}
		t.row(row...)
	}
	t.write(c.Out)
}

func signed(x float64) string {
	s := fmt.Sprintf("%+.1f", x)
	if s == "+0.0" || s == "-0.0" {
		return "0.0"
	}
	return s
}

func (ans *floorAnswer) changesText(c *Ctx) {
	if len(ans.changes) == 0 {
		return
	}
	fmt.Fprintln(c.Out)
	t := table{align: "lrrr"}
	sooner := ans.changes[0].AllWas
	head := []string{"what if", "more pieces a shift", fmt.Sprintf("%.0f %% between", 100*ans.Level)}
	if sooner {
		head = append(head, "done sooner by")
	}
	t.row(head...)
	t.rule()
	for _, x := range ans.changes {
		row := []string{x.Name, signed(x.Pieces.Mean), signed(x.Pieces.Low) + " and " + signed(x.Pieces.High)}
		if sooner {
			row = append(row, picture.LongTime(x.Sooner.Mean))
		}
		t.row(row...)
	}
	t.write(c.Out)
	if sooner {
		fmt.Fprintln(c.Out, "every shift gets all its work done, so more of anything shows in the time and not in pieces")
	}
}

func (ans *floorAnswer) crewsText(c *Ctx) {
	for _, x := range ans.crews {
		best := x.crews[x.best]
		why := "each still yields nine tenths of what it would alone"
		if x.cost != nil {
			why = "where machine and labour cost least a piece"
		}
		fmt.Fprintf(c.Out, "\none operator on machines like %s: %s, %s\n", x.machine, plural(best.Machines, "machine"), why)
		t := table{indent: "  ", align: "rrrrrrl"}
		head := []string{"machines", "pieces a shift", "each", "operator busy", "machines waiting"}
		if x.cost != nil {
			head = append(head, ans.shop.Money.Currency+" a piece")
		}
		t.row(append(head, "")...)
		t.rule()
		for i, k := range x.crews {
			row := []string{fmt.Sprint(k.Machines), count(k.Pieces.Mean), count(k.PerMachine), percent(k.HandUse), percent(k.Waiting)}
			if x.cost != nil {
				row = append(row, x.cost[i].StringFixed(2))
			}
			mark := ""
			if i == x.best {
				mark = "← best"
			}
			t.row(append(row, mark)...)
		}
		t.write(c.Out)
	}
	if len(ans.crews) > 0 {
		fmt.Fprintln(c.Out, strings.TrimSpace("  the same jobs in the same order for each; one operator does all duties"))
	}
}
