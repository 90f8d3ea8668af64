// Command sound hears recordings of machines that never were, in many scenes, and
// writes the table: ./dev study sound.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"needlepace/clock"
	"needlepace/learn/zoo"
	"needlepace/machine"
	"needlepace/sound"
	"needlepace/sound/synth"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "sound:", err)
		os.Exit(1)
	}
}

// scene is what a recording of the study is made in.
type scene struct {
	key, what string
	set       func(rng *rand.Rand, sheet *machine.Sheet, script *synth.Script, room *synth.Scene)
	other     bool // another design is asked about than the one that is sewn
	beside    *neighbour
	class     string                              // of the machine, or some with commas by turns; "": all by turns
	as        func(*stitch.Design) *stitch.Design // what is sewn of a design; nil: all as it is
	talk      bool                                // only people who talk are heard
	asks      func(*stitch.Design) *stitch.Design // what is asked about instead of the design; nil: the design
	after     func(*rand.Rand, *made)             // what becomes of the recording
	part      bool                                // not all of what is asked about is heard: no answer is right
}

// neighbour is another machine that sews another design near by.
type neighbour struct {
	quieter float64 // dB
	known   bool    // the law of the machine that is heard is known, of a quiet recording
}

var scenes = []scene{
	{key: "quiet", what: "quiet", set: func(*rand.Rand, *machine.Sheet, *synth.Script, *synth.Scene) {}},
	{key: "codec", what: "what a coarse codec leaves", set: func(_ *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Codec, r.Noise = true, 25
	}},
	{key: "10dB", what: "10 dB over noise", set: func(_ *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise = 10
	}},
	{key: "speech", what: "speech 3 dB lower, automatic gain, clipped", set: func(_ *rand.Rand, _ *machine.Sheet, _ *synth.Script,
		r *synth.Scene) {
		r.Speech, r.Gain, r.Clip, r.Noise = 3, true, true, 20
	}},
	{key: "0dB", what: "0 dB over noise", set: func(_ *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise = 0
	}},
	{key: "hall", what: "a hall of 0.4 to 1.2 s", set: func(g *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise, r.Hall = 20, 0.4+0.8*g.Float64()
	}},
	{key: "two", what: "two equal strokes a revolution", set: func(g *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise, r.Second, r.SecondAt = 20, 1, 0.3+0.35*g.Float64()
	}},
	{key: "lag", what: "a shaft that lags by 0.1 to 0.3 s", set: func(g *rand.Rand, s *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise, s.Shaft.Lag = 20, 0.1+0.2*g.Float64()
	}},
	{key: "steps", what: "speeds in steps of 10 to 50/min", set: func(g *rand.Rand, s *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise, s.Shaft.SpeedStep = 20, []int{10, 20, 25, 50}[g.IntN(4)]
	}},
	{key: "breaks", what: "two breaks or pauses", set: func(g *rand.Rand, _ *machine.Sheet, sc *synth.Script, r *synth.Scene) {
		r.Noise = 20
		for range 2 {
			sc.Interrupted = append(sc.Interrupted, synth.Interruption{Stitch: 60 + g.IntN(600), Back: g.IntN(2) * (2 + g.IntN(8)),
				Seconds: 4 + 40*g.Float64()})
		}
	}},
	{key: "drop", what: "two drop-outs of 10 s", set: func(g *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		at := 20 + 20*g.Float64()
		r.Noise, r.DropOuts = 20, [][2]float64{{at, at + 10}, {at + 60, at + 70}}
	}},
	{key: "twelve", what: "twelve heads with slow creep", set: func(g *rand.Rand, s *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise, s.Shaft.CreepSpeed = 25, 40+30*g.Float64()
	}, class: "multi-12"},
	{key: "dozen", what: "a dozen one-stitch runs", set: alone, as: dozen},
	{key: "hand", what: "colours changed by hand in 20 to 180 s, with talk and what hands do", set: byHand, as: inColours,
		class: "home-1,compact-8,home-1,compact-10-light"},
	{key: "otherhand", what: "another design, colours changed by hand", set: byHand, as: inColours, class: "home-1,compact-8,home-1,compact-10-light", other: true},
	{key: "hands", what: "what hands do and talk, no machine", set: byHand, as: inColours, class: "home-1,compact-8", after: handsAlone, part: true},
	{key: "asleep", what: "20 s not heard, their length known to 40 ms", set: alone, after: asleep},
	{key: "other", what: "another design", set: func(_ *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) {
		r.Noise = 20
	}, other: true},
	{key: "talk", what: "people who talk, no machine", set: alone, talk: true},
	{key: "late", what: "begun a tenth to a half late", set: alone, after: late, part: true},
	{key: "early", what: "ended a tenth to a half early", set: alone, after: early, part: true},
	{key: "twice", what: "two runs in one", set: alone, after: again, part: true},
	{key: "missing", what: "without one of its runs or colours", set: alone, as: without, part: true},
	{key: "swapped", what: "colours sewn in another order", set: alone, as: swapped, part: true},
	{key: "added", what: "asked about without one of its runs or colours", set: alone, asks: without, part: true},
	{key: "objects", what: "two runs sewn in another order", set: alone, asks: exchanged, part: true},
	{key: "size", what: "asked about a size larger, as dense", set: alone, asks: larger, part: true},
	{key: "edited", what: "asked about with a row of stitches less", set: alone, asks: edited, part: true},
	{key: "mended", what: "asked about as mended for the machine", set: alone, asks: mended, part: true},
	{key: "turned", what: "turned by 30 degrees", set: alone, asks: turned, part: true},
	{key: "mirrored", what: "mirrored", set: alone, asks: mirrored},
	{key: "fast", what: "played 5 % too fast", set: alone, after: func(_ *rand.Rand, m *made) { m.play(1.05) }},
	{key: "double", what: "played twice as fast", set: alone, after: func(_ *rand.Rand, m *made) { m.play(2) }},
	{key: "half", what: "played half as fast", set: alone, after: func(_ *rand.Rand, m *made) { m.play(0.5) }},
	{key: "music", what: "music", set: alone, after: music, part: true},
	{key: "silence", what: "silence", set: alone, after: func(_ *rand.Rand, m *made) { clear(m.samples) }, part: true},
	{key: "quieter", what: "another machine 6 dB quieter, law known", set: alone, beside: &neighbour{6, true}},
	{key: "asloud", what: "another machine as loud, law known", set: alone, beside: &neighbour{0, true}},
	{key: "unknown", what: "another machine as loud, law unknown", set: alone, beside: &neighbour{0, false}},
}

// alone leaves a scene as it is, but for some noise.
func alone(_ *rand.Rand, _ *machine.Sheet, _ *synth.Script, r *synth.Scene) { r.Noise = 25 }

// byHand has colour stops of 20 to 180 s in a room where people talk and handle things.
func byHand(g *rand.Rand, _ *machine.Sheet, s *synth.Script, r *synth.Scene) {
	r.Noise, r.Hands = 20, 0.3+0.7*g.Float64()
	s.Rest = func(kind string, t float64) float64 {
		if kind == "colour_stop" && t > 4 { // the frame's way is one, too
			t = 20 * math.Pow(9, g.Float64())
		}
		return t
	}
}

// inColours is a design of three colours or more: where it has fewer, colours are changed after each quarter, where a run begins next if it is not far.
func inColours(d *stitch.Design) *stitch.Design {
	if d.Count().ColourStops >= 2 {
		return d
	}
	out, n, from := *d, len(d.Records), 0
	out.Records = nil
	for at := n / 4; at+n/8 < n; at += n / 4 {
		cut := at
		if i := slices.IndexFunc(runsOf(d), func(r [2]int) bool { return r[0] >= at && r[0] < at+n/8 }); i >= 0 {
			cut = runsOf(d)[i][0]
		}
		out.Records = append(append(out.Records, d.Records[from:cut]...), stitch.Record{Op: stitch.ColourStop})
		from = cut
	}
	out.Records = append(out.Records, d.Records[from:]...)
	return &out
}

// dozen puts twelve runs of one stitch each where a design's first run ends.
func dozen(d *stitch.Design) *stitch.Design {
	out := *d
	at := len(d.Records)
	for i := 1; i < len(d.Records); i++ {
		if d.Records[i].Op == stitch.Jump && d.Records[i-1].Op == stitch.Sew && i > 100 {
			at = i
			break
		}
	}
	out.Records = slices.Clone(d.Records[:at])
	for range 12 {
		for range 6 {
			out.Records = append(out.Records, stitch.Record{DX: 40, DY: 10, Op: stitch.Jump})
		}
		out.Records = append(out.Records, stitch.Record{DX: 15, Op: stitch.Sew})
	}
	out.Records = append(out.Records, stitch.Record{Op: stitch.ColourStop})
	out.Records = append(out.Records, d.Records[at:]...)
	return &out
}

// outcome is one recording heard.
type outcome struct {
	synth.Judged
	within   float64 // by how many numbers may be wrong, as said, in the mean of the stitches
	refused  bool
	events   int      // that were, breaks and pauses
	found    int      // of them within allowed, both ends
	runs     int      // that were, where as many were heard
	held     int      // of them whose ends were heard as near
	invented int      // breaks and pauses that were not
	why      string   // it was refused
	took     float64  // s
	told     []string // breaks and pauses that were, and what was heard of them
	// wrong is the share of the strokes whose stitch the asked design has too, but not by the number heard, or ± what is said of it.
	wrong float64
	sure  int     // breaks that were not and are told without a doubt
	set   float64 // the set speed heard, over the true one
}

func run(ctx context.Context) error {
	count := flag.Int("recordings", 30, "recordings a scene")
	only := flag.String("scene", "", "scenes with commas; all where it is empty")
	data := flag.String("data", "../shared/data/real", "directory of real designs")
	seed := flag.Uint64("seed", 1, "seed")
	out := flag.String("o", "", "page to write the table into, in place of its present one")
	each := flag.Bool("each", false, "a line for each recording too")
	one := flag.Int("recording", -1, "hear only this one of a scene's recordings, from 0")
	workers := flag.Int("workers", 1, "recordings at a time")
	lessons := flag.Int("teach", 0, "machines that are taught by a recording and by the watch, in place of the scenes")
	rests := flag.Float64("rests", 0.1, "with -teach: how much one rest differs from the next, relative, for watch and recording")
	flag.Parse()
	designs, err := read(*data)
	if err != nil {
		return err
	}
	if *lessons > 0 {
		return teach(ctx, os.Stdout, designs, *lessons, *seed, *rests)
	}
	var table strings.Builder
	fmt.Fprintln(&table, "| scene | recordings | refused | within 5 ms | right number | right, or its ± said | ± said, mean | speed over 8 stitches, median error |"+
		" ends of runs held | breaks and pauses found | invented |")
	fmt.Fprintln(&table, "|---|---|---|---|---|---|---|---|---|---|---|")
	for _, sc := range scenes {
		if *only != "" && !slices.Contains(strings.Split(*only, ","), sc.key) {
			continue
		}
		first, n := 0, *count
		if *one >= 0 {
			first, n = *one, 1
		}
		all := make([]outcome, n)
		var wait sync.WaitGroup
		slots := make(chan struct{}, *workers)
		for k := range all {
			slots <- struct{}{}
			wait.Go(func() {
				all[k] = sc.hear(ctx, designs, *seed, first+k)
				if *each {
					fmt.Print(all[k].line(sc.key, first+k))
				}
				<-slots
			})
			if ctx.Err() != nil {
				return ctx.Err()
			}
		}
		wait.Wait()
		fmt.Fprintln(&table, sc.row(all))
	}
	if *out == "" {
		_, err := io.WriteString(os.Stdout, table.String())
		return err
	}
	return place(*out, table.String())
}

// line is one recording for itself.
func (o outcome) line(scene string, k int) string {
	told := o.told
	o.told = nil
	return strings.Join(append([]string{fmt.Sprintf("%s %d %+v", scene, k, o)}, told...), "\n   ") + "\n"
}

// row is the scene's line of the table.
func (sc *scene) row(all []outcome) string {
	var near, number, said, within, speed []float64
	refused, events, found, invented, runs, held := 0, 0, 0, 0, 0, 0
	for _, o := range all {
		if o.refused {
			refused++
			continue
		}
		near, number, speed = append(near, o.Near), append(number, o.Number), append(speed, o.Speed)
		said, within = append(said, o.Said), append(within, o.within)
		events, found, invented = events+o.events, found+o.found, invented+o.invented
		runs, held = runs+o.runs, held+o.held
	}
	mean := func(format string, times float64, x []float64) string {
		if len(x) == 0 || sc.other {
			return "–"
		}
		s := 0.0
		for _, v := range x {
			s += v
		}
		return fmt.Sprintf(format, times*s/float64(len(x)))
	}
	share := func(x []float64) string { return mean("%.1f %%", 100, x) }
	mid := "–"
	if slices.Sort(speed); len(speed) > 0 && !sc.other {
		mid = fmt.Sprintf("%.3f %%", 100*speed[len(speed)/2])
	}
	ends := "–"
	if runs > 0 && !sc.other {
		ends = fmt.Sprintf("%d of %d", held, runs)
	}
	return fmt.Sprintf("| %s | %d | %d | %s | %s | %s | %s | %s | %s | %d of %d | %d |", sc.what, len(all), refused, share(near),
		share(number), share(said), mean("%.2f", 1, within), mid, ends, found, events, invented)
}

// allowed is by how much, in s, the ends of runs and breaks may be off: twice as much
// in noise, in a hall and with two strokes a revolution.
func (sc *scene) allowed() float64 {
	if slices.Contains([]string{"0dB", "hall", "two", "lag", "steps"}, sc.key) {
		return 0.2
	}
	return 0.1
}

// made is a recording of a scene.
type made struct {
	run     *synth.Performance
	samples []float64
	room    synth.Scene
	design  *stitch.Design // as it is, and
	sewnAs  *stitch.Design // as it was sewn, and
	asked   *stitch.Design // what is asked about
	class   *machine.Sheet
	machine *machine.Sheet // as it is
	speed   float64        // stitches/min, as set
	known   bool           // the machine is asked about as it is, not its class
}

// record makes recording k of the scene.
func (sc *scene) record(designs []*stitch.Design, seed uint64, k int) *made {
	rng := rand.New(rand.NewPCG(seed, uint64(k)))
	classes := machine.Classes()
	d := designs[(k*37+5)%len(designs)]
	class := classes[k%len(classes)]
	if sc.class != "" {
		some := strings.Split(sc.class, ",")
		class, _ = machine.Class(some[k%len(some)])
	}
	m := &made{design: d, asked: d, class: class, room: synth.Quiet}
	if sc.as != nil {
		d = sc.as(d)
	}
	m.sewnAs = d
	if !sc.part {
		m.asked = d
	}
	s := zoo.Sheet(class, rng)
	m.machine = s
	script := synth.Script{Job: clock.Job{Speed: min((0.55+0.45*rng.Float64())*class.MaxSpeed, s.MaxSpeed)}, Jitter: 0.0006,
		Phase: []float64{0.5, 1}[k%2], RestSpread: 0.1, Lead: 1 + 4*rng.Float64(), Tail: 2}
	m.speed = script.Job.Speed
	sc.set(rng, s, &script, &m.room)
	if b := sc.beside; b != nil {
		near := classes[(k+3)%len(classes)]
		by := synth.Script{Job: clock.Job{Speed: 0.8 * near.MaxSpeed}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1,
			Lead: 4 * rng.Float64()}
		m.room.OtherDB = b.quieter
		m.room.Other = synth.Perform(designs[(k*37+11)%len(designs)], zoo.Sheet(near, rng), by, rng)
		m.known = b.known
	}
	m.run = synth.Perform(d, s, script, rng)
	m.samples = m.run.Record(m.room, rng)
	if sc.talk {
		m.samples = synth.Speech(len(m.samples), rng)
	}
	if sc.asks != nil {
		m.asked = sc.asks(m.asked)
	}
	if sc.other {
		m.asked = designs[(k*37+24)%len(designs)]
	}
	if sc.after != nil {
		sc.after(rng, m)
	}
	return m
}

func (sc *scene) hear(ctx context.Context, designs []*stitch.Design, seed uint64, k int) outcome {
	m := sc.record(designs, seed, k)
	p, room := m.run, m.room
	opt, sheet := sound.Options{Known: m.known}, m.class
	if m.known {
		sheet = m.machine
	}
	l, err := sound.NewListener(synth.Rate)
	if err != nil {
		panic(err) // the rate is a constant
	}
	l.Hear(m.samples)
	start := time.Now()
	h, err := sound.Hear(ctx, l.Curve(), m.asked, sheet, clock.Job{}, opt)
	o := outcome{took: math.Round(10*time.Since(start).Seconds()) / 10}
	if err != nil {
		o.refused, o.why = true, err.Error()
		return o
	}
	o.set = h.Speed / m.speed
	var at []float64
	var number, within []int
	for _, x := range h.Strokes {
		at, number, within = append(at, x.At), append(number, x.Stitch), append(within, x.Within)
		o.within += float64(x.Within) / float64(len(h.Strokes))
	}
	o.Judged = p.Judge(at, number, within, room.DropOuts)
	var was []synth.Happening
	for _, e := range p.Happenings {
		if e.Kind == "break" || e.Kind == "pause" {
			was = append(was, e)
		}
	}
	o.events = len(was)
	if o.runs = len(p.Runs); len(h.Runs) == o.runs {
		for i, r := range h.Runs {
			if math.Abs(r.Start-p.Runs[i][0]) < sc.allowed() && math.Abs(r.End-p.Runs[i][1]) < sc.allowed() {
				o.held++
			}
		}
	}
	to := counterparts(m.sewnAs, m.asked)
	o.told, o.wrong = misnumbered(p, h, to), misplaced(p, h, to)
	for _, w := range was {
		o.told = append(o.told, fmt.Sprintf("was a %s %.2f to %.2f s", w.Kind, w.Start, w.End))
	}
	for _, e := range h.Events {
		if e.Kind != sound.Break && e.Kind != sound.Pause {
			continue
		}
		o.told = append(o.told, fmt.Sprintf("heard a %v %.2f to %.2f s, %d ± %d sewn again", e.Kind, e.Start, e.End, e.Again, e.Within))
		i := slices.IndexFunc(was, func(w synth.Happening) bool {
			return math.Abs(w.Start-e.Start) < sc.allowed() && math.Abs(w.End-e.End) < sc.allowed()
		})
		if i < 0 {
			o.invented++
			if e.Kind == sound.Break && e.Again > e.Within {
				o.sure++
			}
			continue
		}
		o.found++
		was = slices.Delete(was, i, i+1)
	}
	return o
}

// misnumbered tells the stretches of strokes whose numbers are wrong, by how many, and what was said of it; to has the asked design's
// number of each stitch sewn, -1 for none.
func misnumbered(p *synth.Performance, h *sound.Heard, to []int) (told []string) {
	type wrong struct{ by, within int }
	var now wrong
	var first, last sound.Stroke
	n, i := 0, 0
	tell := func() {
		if n > 0 && now.by != 0 {
			told = append(told, fmt.Sprintf("%d strokes from %.2f to %.2f s, stitches %d to %d, %+d (± %d said)", n, first.At, last.At, first.Stitch,
				last.Stitch, now.by, now.within))
		}
		n = 0
	}
	for _, x := range h.Strokes {
		for i+1 < len(p.Strokes) && math.Abs(p.Strokes[i+1].At-x.At) <= math.Abs(p.Strokes[i].At-x.At) {
			i++
		}
		s := p.Strokes[i].Stitch
		if s < 0 || s >= len(to) || to[s] < 0 {
			continue
		}
		if is := (wrong{x.Stitch - to[s], x.Within}); is != now {
			tell()
			now, first = is, x
		}
		last = x
		n++
	}
	tell()
	return told
}

// Sizes of the study's designs, in stitches.
const least, most = 700, 7000

func read(dir string) ([]*stitch.Design, error) {
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		return nil, err
	}
	var all []*stitch.Design
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		if d, err := stitchfile.Decode(b, f); err == nil {
			if n := d.Count().Stitches; n >= least && n <= most {
				all = append(all, d)
			}
		}
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("no designs of %d to %d stitches in %s", least, most, dir)
	}
	return all, nil
}

// Marks of the table in its page.
const begin, end = "<!-- table: ./dev study sound -->\n", "<!-- end of the table -->"

func place(path, table string) error {
	b, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	head, rest, ok := strings.Cut(string(b), begin)
	_, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		return fmt.Errorf("%s has no place for the table", path)
	}
	return os.WriteFile(path, []byte(head+begin+"\n"+table+"\n"+end+tail), 0o644)
}
