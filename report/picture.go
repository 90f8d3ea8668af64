package report

import (
	"fmt"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/stitch"
	"needlepace/words"
)

// Strip is where the seconds of a run go, as the strip draws them.
func Strip(p clock.Parts) []picture.Part {
	var out []picture.Part
	for _, q := range []picture.Part{
		{Key: picture.AtSetSpeed, Seconds: p.AtSetSpeed},
		{Key: picture.LongStitches, Seconds: p.LongStitches},
		{Key: picture.Ramps, Seconds: p.Ramps},
		{Key: picture.Trims, Seconds: p.Trims},
		{Key: picture.ColourStops, Seconds: p.ColourStops},
		{Key: picture.Travel, Seconds: p.Travel},
		{Key: picture.Stops, Seconds: p.Stops},
		{Key: picture.StartEnd, Seconds: p.StartEnd},
	} {
		if q.Seconds > 0 {
			out = append(out, q)
		}
	}
	return out
}

// RunPicture gathers what the main picture of a run draws: the design under
// the given name, on the sheet's machine.
func RunPicture(name string, d *stitch.Design, sheet *machine.Sheet, job clock.Job, r *clock.Result, how *clock.Uncertainty) *picture.Run {
	tr := clock.New(sheet, job).Trace(d)
	p := &picture.Run{
		Design:  name,
		Machine: fmt.Sprintf("%s at %s/min", sheet.Name, words.Fixed(r.SetSpeed, 0).Text(nil)),
		Seconds: r.Seconds, Low: how.Low, High: how.High, Level: how.Level,
		Naive: r.NaiveSeconds(), Stitches: r.Stitches,
		Held: r.HeldSpeed(), Overall: r.OverallSpeed(), Rated: r.RatedSpeed, SetSpeed: r.SetSpeed,
		Segs:  picture.Sewn(d, sheet.Reading.TrimAfterJumps),
		Parts: Strip(r.Parts),
	}
	end := 0.0
	flush := func(to float64) {
		p.Trace = append(p.Trace, picture.TracePoint{T: end}, picture.TracePoint{T: to})
	}
	for i := range d.Records {
		if tr.Seconds[i] <= 0 {
			continue
		}
		v := tr.Speed(i)
		p.Speeds = append(p.Speeds, float32(v))
		if tr.Starts[i] > end+1e-9 {
			flush(tr.Starts[i])
		}
		end = tr.Starts[i] + tr.Seconds[i]
		p.Trace = append(p.Trace, picture.TracePoint{T: tr.Starts[i] + tr.Seconds[i]/2, Speed: v})
	}
	flush(r.Seconds)
	keys := map[stitch.EventKind]picture.Key{
		stitch.TrimCut: picture.Trims, stitch.ColourCut: picture.ColourStops,
		stitch.OperatorStop: picture.Stops, stitch.Travel: picture.Travel,
	}
	p.Rests = append(p.Rests, picture.Rest{To: sheet.Rest.Start, Key: picture.StartEnd})
	for _, m := range tr.Moments {
		rest := picture.Rest{From: m.At, To: m.At + m.Seconds, Key: keys[m.Kind]}
		if m.Kind == stitch.ColourCut {
			rest.Label = fmt.Sprint(m.Block + 1)
		}
		p.Rests = append(p.Rests, rest)
	}
	p.Rests = append(p.Rests, picture.Rest{From: r.Seconds - sheet.Rest.End, To: r.Seconds, Key: picture.StartEnd})
	return p
}
