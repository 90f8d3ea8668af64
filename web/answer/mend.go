package answer

import (
	"needlepace/act"
	"needlepace/clock"
	"needlepace/jobs"
)

type Mend struct {
	Changed bool         `json:"changed" doc:"false: nothing could be made better"`
	Saved   float64      `json:"saved" doc:"seconds on each run"`
	Before  MendRun      `json:"before"`
	After   MendRun      `json:"after"`
	Changes []MendChange `json:"changes"`
	Blocks  []int        `json:"blocks" doc:"of each new colour block, from 1: the old block whose thread it has"`
	Needles []int        `json:"needles" doc:"needle of each new block, from 1; empty: block 1 on needle 1 and so on"`
	Proof   MendProof    `json:"proof"`
	File    string       `json:"file" doc:"name of the new file"`
	Design  string       `json:"design" doc:"with keep: the ID of the new design; else empty"`
	Content jobs.File    `json:"-"`
}

// WorkFiles is the mended file.
func (m *Mend) WorkFiles() map[string]jobs.File {
	return map[string]jobs.File{"mended": m.Content}
}

type MendRun struct {
	Seconds  float64     `json:"seconds"`
	Stitches int         `json:"stitches"`
	Trims    int         `json:"trims"`
	Stops    int         `json:"colour_stops"`
	Parts    clock.Parts `json:"parts"`
}

type MendChange struct {
	Kind    string  `json:"kind"`
	Count   int     `json:"count"`
	What    string  `json:"what"`
	Seconds float64 `json:"seconds" doc:"what it gained on its own"`
}

type MendProof struct {
	Same            bool   `json:"same" doc:"the sewn picture is the same, point for point"`
	PictureBefore   string `json:"picture_before"`
	PictureAfter    string `json:"picture_after"`
	StitchesBefore  int    `json:"stitches_before"`
	StitchesDropped int    `json:"stitches_dropped"`
	StitchesAfter   int    `json:"stitches_after"`
	CutsBefore      int    `json:"cuts_before"`
	CutsAfter       int    `json:"cuts_after"`
}

func MendOf(m *act.MendedDesign) *Mend {
	run := func(r *clock.Result) MendRun { return MendRun{r.Seconds, r.Stitches, r.Trims, r.ColourStops, r.Parts} }
	p := m.Proof
	out := &Mend{
		Changed: m.Changed(), Saved: m.Saved(), Before: run(m.Before), After: run(m.After), Changes: []MendChange{}, Blocks: []int{}, Needles: []int{},
		Proof: MendProof{p.Err() == nil, p.Before.String(), p.After.String(), p.StitchesBefore, p.StitchesDropped, p.StitchesAfter, p.CutsBefore, p.CutsAfter},
		File:  m.File, Content: jobs.File{Name: m.File, MediaType: "application/octet-stream", Content: m.Content},
	}
	for _, x := range m.Changes {
		out.Changes = append(out.Changes, MendChange{x.Kind, x.Count, x.What, x.Seconds})
	}
	for _, b := range m.Blocks {
		out.Blocks = append(out.Blocks, b+1)
	}
	for _, n := range m.Job.Needles {
		out.Needles = append(out.Needles, n+1)
	}
	if m.Kept != nil {
		out.Design = m.Kept.ID
	}
	return out
}
