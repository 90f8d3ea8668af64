package ask

import (
	"bytes"
	"context"
	"io"
	"slices"
	"strings"
	"testing"

	"needlepace/audit"
	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// rows is a design of dashes that lie so that another order is quicker; jumps
// is how many jumps before each, 0: a trim record.
func rows(jumps int, ys ...int) *stitch.Design {
	d := &stitch.Design{Format: "dst", Name: "rows"}
	x, y := 0, 0
	put := func(op stitch.Op, dx, dy int) {
		d.Records = append(d.Records, stitch.Record{Op: op, DX: int16(dx), DY: int16(dy)})
		x, y = x+dx, y+dy
	}
	for _, to := range ys {
		n := jumps
		if n == 0 {
			put(stitch.Trim, 0, 0)
			n = 1 + max(x, max(to-y, y-to))/120
		}
		for ; n > 0; n-- {
			put(stitch.Jump, -x/n, (to-y)/n)
		}
		for range 12 {
			put(stitch.Sew, 20, 0)
		}
	}
	return d
}

func mend(t *testing.T, d *stitch.Design, file string, q MendQuestion, s *machine.Sheet, others ...*machine.Sheet) *MendAnswer {
	t.Helper()
	a, err := Mend(context.Background(), Given{NewDesign(d, file, ""), s, others}, q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func sheetOf(t *testing.T, id string) *machine.Sheet {
	t.Helper()
	s, ok := machine.Class(id)
	if !ok {
		t.Fatalf("no class %s", id)
	}
	return s
}

// TestWhatAMendSaysIsOfTheFile: the seconds said are those of the written bytes,
// whatever format the design came in, and what was proved is not bettered.
func TestWhatAMendSaysIsOfTheFile(t *testing.T) {
	shaft := sheetOf(t, "single-15-light").Clone()
	shaft.Travel.Mode = machine.ShaftTravel // a trim of jumps takes longer than a trim record
	for name, d := range map[string]*stitch.Design{
		"trim records": rows(0, 0, 500, 100, 400, 200, 300),
		"jumps":        rows(7, 0, 500, 100, 400, 200, 300),
		"few jumps":    rows(5, 0, 500, 100, 400, 200, 300),
	} {
		for _, s := range []*machine.Sheet{shaft, sheetOf(t, "single-15-light"), sheetOf(t, "multi-20")} {
			for _, format := range []string{"dst", "exp"} {
				was := clock.Run(d, s, clock.Job{}).Seconds
				a := mend(t, d, "rows.dst", MendQuestion{Format: format}, s)
				if !a.Changed {
					if a.Content != nil || a.After.Seconds != was || a.Saved != 0 {
						t.Errorf("%s on %s as %s: nothing changed, and yet %+v", name, s.Name, format, a.After)
					}
					continue
				}
				back, err := stitchfile.Decode(a.Content, a.NewFile)
				if err != nil {
					t.Fatal(err)
				}
				if now := clock.Run(back, s, clock.Job{}).Seconds; now != a.After.Seconds || was != a.Before.Seconds || a.Saved != was-now {
					t.Errorf("%s on %s as %s: %v → %v s and %v saved were said; it is %v → %v", name, s.Name, format,
						a.Before.Seconds, a.After.Seconds, a.Saved, was, now)
				}
				sum := 0.0
				for _, c := range a.Changes {
					sum += c.Seconds
				}
				if d := sum - a.Saved; d > 1e-6 || d < -1e-6 {
					t.Errorf("%s on %s as %s: the changes gain %v s, %v are saved", name, s.Name, format, sum, a.Saved)
				}
				if again := mend(t, back, a.NewFile, MendQuestion{Format: format}, s); a.Search.Optimal && again.Changed {
					t.Errorf("%s on %s as %s: proved, and yet mended again for %v s", name, s.Name, format, again.Saved)
				}
			}
		}
	}
}

// TestAMendedFileKeepsItsTrimsOnTheOtherMachines: the trims are long enough for
// every machine that will sew it; else the answer names the one it is not good for.
func TestAMendedFileKeepsItsTrimsOnTheOtherMachines(t *testing.T) {
	mine, slow := sheetOf(t, "single-15-light"), sheetOf(t, "multi-20").Clone()
	slow.Reading.TrimAfterJumps, slow.Name = 6, "wants six"
	d := rows(0, 0, 500, 100, 400, 200, 300)
	a := mend(t, d, "rows.exp", MendQuestion{Format: "dst"}, mine, slow)
	if !a.Changed || a.TrimJumps != 6 || len(a.Machines) != 2 || !a.Machines[1].Good || a.Machines[1].Trims[1] != a.After.Trims {
		t.Errorf("changed %v, %d jumps, %+v", a.Changed, a.TrimJumps, a.Machines)
	}
	if v := a.Verdict.Text(nil); !strings.Contains(v, "good for 2 machines") {
		t.Errorf("it says: %s", v)
	}
	back, err := stitchfile.Decode(a.Content, a.NewFile)
	if err != nil {
		t.Fatal(err)
	}
	if got := clock.Run(back, slow, clock.Job{}); got.Trims != 5 {
		t.Errorf("%d trims where six jumps are one", got.Trims)
	}
	// A machine that cannot be served: explicit trims it reads, jumps it does not.
	alone := mend(t, d, "rows.exp", MendQuestion{Format: "dst"}, mine)
	if alone.TrimJumps != 3 || !strings.Contains(alone.Caveats.Text(nil), "other machines") {
		t.Errorf("%d jumps; it says: %s", alone.TrimJumps, alone.Caveats.Text(nil))
	}
}

// drivenOut is rows after whose third dash the frame is driven out of the work
// for a hand.
func drivenOut(ys ...int) *stitch.Design {
	d := rows(7, ys...)
	out := []stitch.Record{}
	for range 8 {
		out = append(out, stitch.Record{Op: stitch.Jump, DY: -100})
	}
	out = append(out, stitch.Record{Op: stitch.ColourStop})
	for range 8 {
		out = append(out, stitch.Record{Op: stitch.Jump, DY: 100})
	}
	at := slices.IndexFunc(d.Records, func(r stitch.Record) bool { return r.Op == stitch.Sew })
	at += 2*19 + 12 // after the third dash
	d.Records = slices.Insert(d.Records, at, out...)
	return d
}

// TestAMachineThatTheFileSlowsIsNamed: where each jump takes a turn of the shaft,
// long trims may cost more than the mend saves.
func TestAMachineThatTheFileSlowsIsNamed(t *testing.T) {
	mine, eight, shaft := sheetOf(t, "single-15-light"), sheetOf(t, "multi-20").Clone(), sheetOf(t, "multi-12").Clone()
	eight.Reading.TrimAfterJumps, eight.Name = 12, "wants twelve"
	shaft.Travel.Mode, shaft.Travel.ShaftSpeed, shaft.Name = machine.ShaftTravel, 120, "by the shaft"
	d := rows(0, 0, 300, 60, 240, 120, 180)
	a := mend(t, d, "rows.exp", MendQuestion{Format: "dst"}, mine, eight, shaft)
	if !a.Changed {
		t.Fatal("nothing was mended")
	}
	m := a.Machines[2]
	if m.Machine != "by the shaft" || m.After <= m.Before || m.Good {
		t.Errorf("%+v", m)
	}
	if c := a.Caveats.Text(nil); !strings.Contains(c, "Not for by the shaft: it would take") {
		t.Errorf("it says: %s", c)
	}
}

// TestMendNamesTheOperatorsStops: page, command and API hear of them.
func TestMendNamesTheOperatorsStops(t *testing.T) {
	d := drivenOut(0, 500, 100, 400, 200, 300)
	for _, q := range []MendQuestion{{}, {KeepStops: true}} {
		a := mend(t, d, "rows.dst", q, sheetOf(t, "single-15-light"))
		if len(a.Kept) != 1 || !a.Kept[0].Final || a.Kept[0].Why != "frame-out" || a.Kept[0].Stitch != 36 {
			t.Fatalf("%+v", a.Kept)
		}
		if v := a.Verdict.Text(nil); !strings.Contains(v, "1 operator’s stop left untouched") {
			t.Errorf("it says: %s", v)
		}
	}
	if _, err := Mend(context.Background(), Given{Stitches: NewDesign(d, "rows.dst", ""), On: sheetOf(t, "single-15-light")},
		MendQuestion{Release: []int{1}}); err == nil || !strings.Contains(err.Error(), "operator's") {
		t.Errorf("the frame-out was named to go: %v", err)
	}
	audit, err := Audit(context.Background(), Given{Stitches: NewDesign(d, "rows.dst", ""), On: sheetOf(t, "single-15-light")}, AuditQuestion{})
	if err != nil || len(audit.Kept) != 1 || !strings.Contains(audit.Caveats.Text(nil), "operator’s stop") {
		t.Errorf("the audit says %s, %v", audit.Caveats.Text(nil), err)
	}
	if err := MendCheck(MendQuestion{KeepStops: true, Release: []int{1}}); err == nil {
		t.Error("all to stay, and one to go")
	}
	var b bytes.Buffer
	if err := stitchfile.Encode(&b, d, "dst"); err != nil {
		t.Fatal(err)
	}
}

// TestATrimThatComesToBeIsARecordWhereTheFormatHasOne: blocks of one thread are put
// together, and a design without trims has some. A record needs no run of jumps for
// the machine that wants most of them; what was proved is not bettered.
func TestATrimThatComesToBeIsARecordWhereTheFormatHasOne(t *testing.T) {
	shaft, wants := sheetOf(t, "single-15-light").Clone(), sheetOf(t, "multi-6").Clone()
	shaft.Travel.Mode, shaft.Rest.ColourStop, wants.Reading.TrimAfterJumps = machine.ShaftTravel, 60, 18
	d := rows(2, 0, 500, 100, 400, 200, 300)
	for i := len(d.Records) - 1; i > 0; i-- { // a colour stop before each dash
		if d.Records[i].Op == stitch.Jump && d.Records[i-1].Op == stitch.Sew {
			d.Records = slices.Insert(d.Records, i, stitch.Record{Op: stitch.ColourStop})
		}
	}
	q := MendQuestion{ThreadsAsked: ThreadsAsked{Threads: []string{"a", "b", "a", "b", "a", "b"}, From: "the test"}}
	for format, jumps := range map[string]int{"pes": 1, "vp3": 1, "exp": 1, "dst": 18, "jef": 18} {
		q.Format, q.Threads = format, []string{"a", "b", "a", "b", "a", "b"}
		a := mend(t, d, "rows.dst", q, shaft, wants)
		back, err := stitchfile.Decode(a.Content, a.NewFile)
		if err != nil || a.After.Trims != 4 {
			t.Fatalf("%s: %v, %+v", format, err, a.After)
		}
		for e := range back.Events(3) {
			if e.Kind == stitch.Travel && e.From > 0 && back.Records[e.From-1].Op != stitch.ColourStop && e.Jumps > max(jumps, 4) {
				t.Errorf("%s: %d jumps after a trim", format, e.Jumps)
			}
		}
		q.Format, q.Threads = "", []string{"a", "b"}
		if again := mend(t, back, a.NewFile, q, shaft, wants); !a.Search.OptimalSo || again.Saved > 1e-3 {
			t.Errorf("%s: proved %v, and mended again for %v s", format, a.Search.Optimal, again.Saved)
		}
	}
}

// TestAFileThatDoesNotSayItsThreadsSaysWhatToNameThem: where a mend sews one thread in
// several blocks and the file cannot say so, another mend takes them for threads of
// their own and finds more: the answer says by what names it finds nothing.
func TestAFileThatDoesNotSayItsThreadsSaysWhatToNameThem(t *testing.T) {
	s := sheetOf(t, "single-15-light").Clone()
	s.Rest.Trim = 40 // far dearer than a colour stop
	a, b := rows(0, 0, 900, 100, 800, 200, 700), rows(0, 300, 600)
	d := &stitch.Design{Format: "dst", Records: slices.Concat(a.Records, []stitch.Record{{Op: stitch.ColourStop}}, b.Records)}
	named := func(m *MendAnswer) string {
		for _, c := range m.Caveats {
			if c.Key == "mend.name-threads" {
				return c.Args["threads"].Raw()
			}
		}
		return ""
	}
	first := mend(t, d, "rows.dst", MendQuestion{}, s)
	names := named(first)
	if !first.Changed || !first.Search.Optimal || len(first.Blocks) < 3 || names == "" {
		t.Fatalf("changed %v, proved %v, blocks %v, to name %q: the test tries nothing", first.Changed, first.Search.Optimal, first.Blocks, names)
	}
	// Among many it is said too, in the list.
	many, err := MendMany(context.Background(), &drawer{Given: Given{On: s}, designs: map[string]*stitch.Design{"rows.dst": d, "said.dst": withThreads(d)}},
		MendManyQuestion{Designs: []string{"rows.dst", "said.dst"}, Machine: "m"})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []bool{true, false} {
		if risks := many.Designs[i].Risks.Text(nil); strings.Contains(risks, "name its blocks’ threads: "+names) != want {
			t.Errorf("in the list %s has %q", many.Designs[i].ID, risks)
		}
	}
	back, err := stitchfile.Decode(first.Content, first.NewFile)
	if err != nil {
		t.Fatal(err)
	}
	if again := mend(t, back, first.NewFile, MendQuestion{}, s); !again.Changed {
		t.Error("nothing more is found without names: they need not be asked for")
	}
	again := mend(t, back, first.NewFile, MendQuestion{ThreadsAsked: ThreadsAsked{Threads: strings.Split(names, ",")}}, s)
	if again.Saved > 1e-3 {
		t.Errorf("with the names %s %v s more are saved", names, again.Saved)
	}
	for name, m := range map[string]*MendAnswer{
		"nothing changed":                       again,
		"a file that says its threads":          mend(t, withThreads(d), "rows.dst", MendQuestion{}, s),
		"a thread for each block, as they were": mend(t, d, "rows.dst", MendQuestion{KeepColours: true}, s),
	} {
		if got := named(m); got != "" {
			t.Errorf("%s: names %s are asked for", name, got)
		}
	}
}

// withThreads is the design with a thread for each of its two blocks.
func withThreads(d *stitch.Design) *stitch.Design {
	x := *d
	x.Threads = []stitch.Thread{{Name: "red", R: 200, Known: true}, {Name: "blue", B: 200, Known: true}}
	return &x
}

// What is proved is said of the orders that it is proved of, and nobody is told of 0.0 s.
func TestWhatIsProvedOfAnOrder(t *testing.T) {
	for key, x := range map[string]MendSearch{
		"mend.proven":             {Objects: 4, Optimal: true, OptimalSo: true, Bound: 100},
		"mend.proven-as-coloured": {Objects: 4, ColoursStay: true, OptimalSo: true, Bound: 98},
		"mend.nearly-proven":      {Objects: 4, Gap: 0.001, Bound: 99.96},
		"mend.gap":                {Objects: 4, Gap: 0.1, Bound: 99.9},
	} {
		a := &MendAnswer{Machine: "m", Of: NewDesign(rows(7, 0), "rows.dst", ""), Before: MendRun{Seconds: 100}, After: MendRun{Seconds: 100}, Search: x}
		a.say()
		if len(a.Verdict) != 2 || a.Verdict[1].Key != key {
			t.Errorf("%+v: %v, want %s", x, a.Verdict, key)
		}
	}
}

// The list that the machine's colours are set by has the names that were given for this mend.
func TestThreadsAreCalledAsTheAskerCallsThem(t *testing.T) {
	d := &stitch.Design{Format: "dst"}
	given := []string{"navy", "?", "navy", "sand"}
	for k := range given {
		if k > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		d.Records = append(d.Records, rows(0, 1000*k, 1000*k+900, 1000*k+100).Records...)
	}
	a := mend(t, d, "rows.dst", MendQuestion{ThreadsAsked: ThreadsAsked{Threads: given, From: "--threads"}}, sheetOf(t, "single-15-light"))
	if len(a.Colours) == 0 || !a.Changed {
		t.Fatal("nothing was mended: the test tries nothing")
	}
	for _, c := range a.Colours {
		if want := strings.TrimPrefix(given[c.OldBlock-1], "?"); c.Thread != want {
			t.Errorf("block %d is of %q, want %q", c.Block, c.Thread, want)
		}
	}
}

// Where another machine of the shop cuts after two jumps, two that this one sews through
// stay two: as one they would be cut nowhere.
func TestJumpsThatAnotherMachineCutsAtStay(t *testing.T) {
	mine, two := sheetOf(t, "single-15-light"), sheetOf(t, "multi-6").Clone()
	two.Name, two.Reading.TrimAfterJumps = "cuts after two", 2
	d := rows(7, 0, 500, 100, 400, 200, 300)
	at := 7 + 6 // amid the first dash
	d.Records = slices.Insert(d.Records, at, stitch.Record{Op: stitch.Jump, DX: 20}, stitch.Record{Op: stitch.Jump, DX: 20})
	before := clock.Run(d, two, clock.Job{}).Trims
	for _, others := range [][]*machine.Sheet{nil, {two}} {
		a := mend(t, d, "rows.dst", MendQuestion{}, mine, others...)
		back, err := stitchfile.Decode(a.Content, a.NewFile)
		if err != nil {
			t.Fatal(err)
		}
		lost := 1 - len(others) // where nobody named the machine
		if got := clock.Run(back, two, clock.Job{}).Trims; got != before-lost {
			t.Errorf("%d other machines: %d trims where two jumps are one, there were %d", len(others), got, before)
		}
	}
}

// A way that only another machine cuts stays as it was, and the answer says where: a cut there would be a new one. For the
// machine that cuts it is a trim, long enough for all.
func TestWhereOneMachineCutsAndAnotherDoesNotIsSaid(t *testing.T) {
	mine, two, four := sheetOf(t, "single-15-light"), sheetOf(t, "multi-6").Clone(), sheetOf(t, "multi-20").Clone()
	two.Name, two.Reading.TrimAfterJumps = "cuts after two", 2
	four.Name, four.Reading.TrimAfterJumps = "cuts after four", 4
	d := rows(7, 0, 500, 100, 400, 200, 300)
	for _, jumps := range []int{2, 3} { // amid the first dash, each 20 mm with a stitch before it and after it
		for range jumps {
			d.Records = slices.Insert(d.Records, 7+6, stitch.Record{Op: stitch.Jump, DX: int16(180 / jumps)})
		}
		d.Records = slices.Insert(d.Records, 7+6, stitch.Record{DX: 20})
	}
	for range 4 {
		d.Records = slices.Insert(d.Records, 7+6, stitch.Record{DX: -100})
	}
	type said struct {
		jumps, uncut int
		good         bool
	}
	for _, c := range []struct {
		on     *machine.Sheet
		others []*machine.Sheet
		want   []said
		says   []string
	}{
		{mine, nil, []said{{3, 0, true}}, nil},
		{mine, []*machine.Sheet{four}, []said{{3, 0, true}, {4, 0, false}},
			[]string{"On cuts after four a run takes", "for it cuts at 6 trims instead of 5"}},
		{mine, []*machine.Sheet{two, four}, []said{{3, 1, false}, {2, 0, true}, {4, 1, false}}, []string{"for it cuts at 6 trims instead of 5", "On " + mine.Name + " the thread stays uncut at 1 way of jumps, as with the old file, the longest 20.0 mm: 3 jumps make a trim there, " +
			"and cuts after two cuts after 2 jumps", "On cuts after four the thread stays uncut at 1 way"}},
		{two, []*machine.Sheet{mine, four}, []said{{2, 0, true}, {3, 0, false}, {4, 0, false}}, []string{"On " + mine.Name + " a run takes", "for it cuts at 7 trims instead of 6", "for it cuts at 7 trims instead of 5"}},
		{mine, []*machine.Sheet{two}, []said{{3, 1, false}, {2, 0, true}}, []string{"good for 2 machines, as the old one was"}},
	} {
		a := mend(t, d, "rows.dst", MendQuestion{}, c.on, c.others...)
		text := a.Verdict.Text(nil) + " " + a.Caveats.Text(nil)
		for k, m := range a.Machines {
			if got := (said{m.Jumps, m.Uncut, m.Good}); got != c.want[k] {
				t.Errorf("for %s: of %s it says %+v, want %+v", c.on.Name, m.Machine, got, c.want[k])
			}
		}
		for _, s := range c.says {
			if !strings.Contains(text, s) {
				t.Errorf("for %s it does not say %q: %s", c.on.Name, s, text)
			}
		}
		// By the bytes: where any machine cuts, one that is good cuts; and no machine cuts less than before.
		back, err := stitchfile.Decode(a.Content, a.NewFile)
		if err != nil || len(a.Machines) != len(c.want) {
			t.Fatal(err, a.Machines)
		}
		most := 0
		for _, s := range append(c.others, c.on) {
			most = max(most, clock.Run(back, s, clock.Job{}).Trims)
		}
		for k, s := range append([]*machine.Sheet{c.on}, c.others...) {
			now := clock.Run(back, s, clock.Job{}).Trims
			if m := a.Machines[k]; m.Good && now != most || now+m.Uncut != most || now < clock.Run(d, s, clock.Job{}).Trims {
				t.Errorf("for %s: %s cuts %d times of %d, %+v", c.on.Name, s.Name, now, most, m)
			}
		}
	}
}

// A machine that does not cut at every trim is not called good, however fast it sews the file.
func TestAFileThatLosesTrimsThereIsNotGood(t *testing.T) {
	mine, eight := sheetOf(t, "single-15-light"), sheetOf(t, "multi-20").Clone()
	eight.Reading.TrimAfterJumps = 8
	for jumps, good := range map[int]bool{5: false, 8: true} {
		old, now := rows(jumps, 0, 500, 100), rows(jumps, 0, 100, 500)
		a := &MendAnswer{Of: NewDesign(old, "rows.dst", ""),
			Mended: &audit.Mended{Design: now, After: clock.Run(now, mine, clock.Job{})}}
		if m := a.on(eight, 3); m.Good != good || m.After > m.Before {
			t.Errorf("trims of %d jumps where 8 are one: good is %v, %d trims of %d, %.1f s and %.1f s", jumps, m.Good, m.Trims[1],
				a.Mended.After.Trims, m.Before, m.After)
		}
	}
}

// "Proved" is said of a search that proved it, of all orders only where no other order of
// the colours was left, and of no search never.
func TestProvedIsWhatTheSearchProved(t *testing.T) {
	d, s := rows(7, 0, 500), sheetOf(t, "single-15-light")
	run := clock.Run(d, s, clock.Job{})
	for _, c := range []struct {
		objects       int
		optimal, stay bool
		all, so       bool
	}{
		{4, true, false, true, true}, {4, true, true, false, true}, {4, false, false, false, false},
		{4, false, true, false, false}, {0, true, false, false, false},
	} {
		a := &MendAnswer{Of: NewDesign(d, "rows.dst", ""), On: s, Mended: &audit.Mended{Design: d, Before: run, After: run,
			Objects: c.objects, ColoursStay: c.stay, Search: sequence.Result{Cost: 9, Bound: 8, Optimal: c.optimal}}}
		a.fill(nil)
		if a.Search.Optimal != c.all || a.Search.OptimalSo != c.so {
			t.Errorf("%+v: proved of all %v, as coloured %v", c, a.Search.Optimal, a.Search.OptimalSo)
		}
	}
}

// Where the format that is asked for costs more than the mend saves there is no new file,
// and the answer says why: stitches of 15 mm are two in a .dst.
func TestAFormatThatCostsMoreThanTheMendSavesGivesNoFile(t *testing.T) {
	s := sheetOf(t, "single-15-light")
	d := rows(7, 0, 500, 100)
	d.Format = "pes"
	if a := mend(t, d, "rows.pes", MendQuestion{Format: "dst"}, s); !a.Changed {
		t.Fatalf("nothing is mended: %s", a.Verdict.Text(nil))
	}
	for k := range 40 {
		d.Records = append(d.Records, stitch.Record{Op: stitch.Sew, DX: int16(150 - 300*(k%2)), DY: 4})
	}
	a := mend(t, d, "rows.pes", MendQuestion{Format: "dst"}, s)
	if a.Changed || a.Content != nil || a.Saved != 0 || !strings.Contains(strings.Join(a.Warnings, " "), "would take") {
		t.Errorf("changed %v, %d bytes, %v s saved; %q", a.Changed, len(a.Content), a.Saved, a.Warnings)
	}
}

// A writer with a fault hands out no file: what it writes is read back first, of the old design and of the new one.
func TestAWriterWithAFaultHandsOutNoFile(t *testing.T) {
	defer func(was func(io.Writer, *stitch.Design, string, stitchfile.Readers) (stitchfile.Written, error)) {
		encodeFor = was
	}(encodeFor)
	d := rows(4, 0, 500, 100)
	d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
	d.Records = append(d.Records, rows(4, 0, 300, 50, 200).Records...)
	find := func(rec []stitch.Record, op stitch.Op, after int) int {
		return after + slices.IndexFunc(rec[after:], func(r stitch.Record) bool { return r.Op == op })
	}
	faults := map[string]func(rec []stitch.Record) []stitch.Record{
		"a stitch beside its place": func(rec []stitch.Record) []stitch.Record {
			i := find(rec, stitch.Sew, 10)
			rec[i].DX++
			rec[i+1].DX--
			return rec
		},
		"a stitch too few": func(rec []stitch.Record) []stitch.Record {
			i := find(rec, stitch.Sew, 10)
			rec[i+1].DX += rec[i].DX
			return slices.Delete(rec, i, i+1)
		},
		"a stop beside its place": func(rec []stitch.Record) []stitch.Record {
			i := find(rec, stitch.ColourStop, 0)
			return slices.Insert(slices.Insert(rec, i+1, stitch.Record{DX: -20, Op: stitch.Jump}), i, stitch.Record{DX: 20, Op: stitch.Jump})
		},
		"a stop too few": func(rec []stitch.Record) []stitch.Record {
			i := find(rec, stitch.ColourStop, 0)
			return slices.Delete(rec, i, i+1)
		},
	}
	for name, fault := range faults {
		for nth := range 3 { // none, of the old design, of the new one
			calls := 0
			encodeFor = func(w io.Writer, d *stitch.Design, format string, r stitchfile.Readers) (stitchfile.Written, error) {
				if calls++; calls == nth {
					c := *d
					c.Records = fault(slices.Clone(d.Records))
					d = &c
				}
				return stitchfile.EncodeFor(w, d, format, r)
			}
			a, err := Mend(context.Background(), Given{NewDesign(d, "a.dst", ""), sheetOf(t, "single-15-light"), nil}, MendQuestion{})
			if calls != 2 && nth != 1 || nth == 0 && (err != nil || !a.Changed) || nth > 0 && err == nil {
				t.Errorf("%s in file %d of %d: %v", name, nth, calls, err)
			}
		}
	}
}
