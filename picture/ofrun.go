package picture

import (
	"fmt"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/stitch"
	"needlepace/words"
)

// PartsOf is where the seconds of a run go, as the strip draws them.
func PartsOf(p clock.Parts) []Part {
	var out []Part
	for k, seconds := range p.Each() {
		if seconds > 0 {
			out = append(out, Part{Key(k), seconds})
		}
	}
	return out
}

// RunOf gathers what the main picture of a run draws.
func RunOf(a *ask.ClockAnswer) *Run {
	d, r := a.Of, a.Result
	tr := clock.New(a.On, a.Job).Trace(d.Design)
	p := &Run{
		Design: a.Design, Machine: words.Say("clock.machine-at",
			words.Args{"machine": words.Name(a.Machine), "speed": words.PerMinute(a.SetSpeed)}).Text(nil),
		Seconds: a.Seconds, Low: a.Interval.Low, High: a.Interval.High, Level: a.Interval.Level,
		Naive: a.NaiveSeconds, Stitches: a.Stitches,
		Held: a.HeldSpeed, Overall: a.OverallSpeed, Rated: a.RatedSpeed, SetSpeed: a.SetSpeed,
		Segs:  Sewn(d.Design, a.On.Reading.TrimAfterJumps),
		Parts: PartsOf(a.Parts),
	}
	kinds := d.Kinds(a.On.Reading.TrimAfterJumps)
	p.Speeds = make([]float32, 0, len(p.Segs))
	p.Trace = make([]TracePoint, 0, len(d.Records)+2*len(tr.Moments)+4)
	end := 0.0
	flush := func(to float64) {
		p.Trace = append(p.Trace, TracePoint{T: end}, TracePoint{T: to})
	}
	for i := range d.Records {
		if tr.Seconds[i] <= 0 {
			continue
		}
		if d.Records[i].Op == stitch.Jump {
			p.Jumps = append(p.Jumps, len(p.Speeds))
		}
		v := tr.Speed(i)
		p.Speeds = append(p.Speeds, float32(v))
		if tr.Starts[i] > end+1e-9 {
			flush(tr.Starts[i])
		}
		end = tr.Starts[i] + tr.Seconds[i]
		p.Kinds = addKind(p.Kinds, tr.Starts[i], end, kinds[i])
		p.Trace = append(p.Trace, TracePoint{T: tr.Starts[i] + tr.Seconds[i]/2, Speed: v})
	}
	flush(r.Seconds)
	keys := map[stitch.EventKind]Key{
		stitch.TrimCut: Trims, stitch.ColourCut: ColourStops,
		stitch.OperatorStop: Stops, stitch.Travel: Travel,
	}
	p.Rests = append(p.Rests, Rest{To: a.On.Rest.Start, Key: StartEnd})
	for _, m := range tr.Moments {
		rest := Rest{From: m.At, To: m.At + m.Seconds, Key: keys[m.Kind]}
		if m.Kind == stitch.ColourCut {
			rest.Label = fmt.Sprint(m.Block + 1)
		}
		p.Rests = append(p.Rests, rest)
	}
	p.Rests = append(p.Rests, Rest{From: r.Seconds - a.On.Rest.End, To: r.Seconds, Key: StartEnd})
	return p
}
