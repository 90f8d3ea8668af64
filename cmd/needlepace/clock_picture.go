package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"needlepace/clock"
	"needlepace/picture"
	"needlepace/stitch"
)

// strip is where the seconds went, for the strip.
func strip(p clock.Parts) []picture.Part {
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

// runPicture gathers what the main picture draws.
func runPicture(d clockedDesign, job clock.Job) *picture.Run {
	k := d.on[0]
	tr := clock.New(k.sheet, job).Trace(d.design)
	r := k.result
	p := &picture.Run{
		Design:  d.title(),
		Machine: fmt.Sprintf("%s at %s/min", k.sheet.Name, picture.Thousands(r.SetSpeed)),
		Seconds: r.Seconds, Low: k.how.Low, High: k.how.High, Level: k.how.Level,
		Naive: r.NaiveSeconds(), Stitches: r.Stitches,
		Held: r.HeldSpeed(), Overall: r.OverallSpeed(), Rated: r.RatedSpeed, SetSpeed: r.SetSpeed,
		Segs:  picture.Sewn(d.design, k.sheet.Reading.TrimAfterJumps),
		Parts: strip(r.Parts),
	}
	end := 0.0
	flush := func(to float64) {
		p.Trace = append(p.Trace, picture.TracePoint{T: end}, picture.TracePoint{T: to})
	}
	for i := range d.design.Records {
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
	p.Rests = append(p.Rests, picture.Rest{To: k.sheet.Rest.Start, Key: picture.StartEnd})
	for _, m := range tr.Moments {
		rest := picture.Rest{From: m.At, To: m.At + m.Seconds, Key: keys[m.Kind]}
		if m.Kind == stitch.ColourCut {
			rest.Label = fmt.Sprint(m.Block + 1)
		}
		p.Rests = append(p.Rests, rest)
	}
	p.Rests = append(p.Rests, picture.Rest{From: r.Seconds - k.sheet.Rest.End, To: r.Seconds, Key: picture.StartEnd})
	return p
}

// writeRunPicture draws to a file whose extension says how.
func writeRunPicture(path string, d clockedDesign, job clock.Job) error {
	return writePicture(path, runPicture(d, job))
}

// pictureName checks, before any work is done, that a picture can be written
// under this name.
func pictureName(path string) error {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg", ".png":
	default:
		return usagef("--picture %s: the name must end in .svg or .png", path)
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return usagef("--picture %s: there is no folder %s", path, filepath.Dir(path))
	}
	return nil
}

// writePicture draws any picture to an .svg or .png file.
func writePicture(path string, p picture.Picture) error {
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".svg":
		return create(path, func(w io.Writer) error { return picture.SVG(w, p, picture.Light()) })
	case ".png":
		return create(path, func(w io.Writer) error { return picture.PNG(w, p, picture.Light(), 2) })
	default:
		return usagef("--picture %s: the name must end in .svg or .png", path)
	}
}
