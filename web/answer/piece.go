package answer

import (
	"bytes"
	"fmt"
	"strings"

	"needlepace/jobs"
	"needlepace/learn"
	"needlepace/learn/card"
	"needlepace/picture"
	"needlepace/stitchfile"
)

type Piece struct {
	Stitches int                  `json:"stitches"`
	WidthMM  float64              `json:"width_mm"`
	HeightMM float64              `json:"height_mm"`
	Seconds  float64              `json:"seconds" doc:"to expect"`
	SetSpeed float64              `json:"set_speed" doc:"stitches/min to sew it at"`
	Blocks   []PieceBlock         `json:"blocks"`
	Spread   []PieceSpread        `json:"spread"`
	Files    []string             `json:"files" doc:"get them at /work/{work}/{file}"`
	Contents map[string]jobs.File `json:"-"`
}

type PieceBlock struct {
	What     string  `json:"what"`
	Stitches int     `json:"stitches"`
	Trims    int     `json:"trims"`
	Seconds  float64 `json:"seconds" doc:"to expect, as a person times it"`
}

type PieceSpread struct {
	Path   string  `json:"path"`
	Before float64 `json:"sd_before" doc:"relative"`
	After  float64 `json:"sd_after" doc:"relative, once every block and the whole are timed"`
}

// WorkFiles are the files of the test piece.
func (p *Piece) WorkFiles() map[string]jobs.File { return p.Contents }

func PieceOf(p *learn.Piece, machineName string) (*Piece, error) {
	n := p.Design.Count()
	a := &Piece{Stitches: n.Stitches, WidthMM: n.Bounds.WidthMM(), HeightMM: n.Bounds.HeightMM(), Seconds: p.Seconds, SetSpeed: p.SetSpeed,
		Blocks: []PieceBlock{}, Spread: []PieceSpread{}, Contents: map[string]jobs.File{}}
	for _, b := range p.Blocks {
		a.Blocks = append(a.Blocks, PieceBlock{b.What, b.Stitches, b.Trims, b.Seconds})
	}
	for _, e := range p.Spread {
		a.Spread = append(a.Spread, PieceSpread{e.Path, e.Before, e.After})
	}
	base := "testpiece-" + FileWord(machineName)
	put := func(name, as, mediaType string, write func(*bytes.Buffer) error) error {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			return fmt.Errorf("web: test piece %s: %w", name, err)
		}
		a.Contents[name] = jobs.File{Name: as, MediaType: mediaType, Content: b.Bytes()}
		a.Files = append(a.Files, name)
		return nil
	}
	k := &card.Card{Piece: p, Machine: machineName, File: base + ".dst", CSV: base + "-runs.csv"}
	for _, ext := range stitchfile.Writable() {
		format, err := stitchfile.WriterFor(ext)
		if err == nil {
			err = put("piece"+ext, base+ext, "application/octet-stream", func(b *bytes.Buffer) error {
				return stitchfile.Encode(b, p.Design, format)
			})
		}
		if err != nil {
			return nil, err
		}
	}
	for _, f := range []struct {
		name, as, mediaType string
		write               func(*bytes.Buffer) error
	}{
		{"card.svg", base + "-card.svg", "image/svg+xml", func(b *bytes.Buffer) error { return picture.SVG(b, k, picture.Print()) }},
		{"card.png", base + "-card.png", "image/png", func(b *bytes.Buffer) error { return picture.PNG(b, k, picture.Print(), 2) }},
		{"runs.csv", base + "-runs.csv", "text/csv", func(b *bytes.Buffer) error { return learn.WriteRuns(b, p.Observations(base+".dst"), true) }},
	} {
		if err := put(f.name, f.as, f.mediaType, f.write); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// FileWord is a name fit for a file's name.
func FileWord(s string) string {
	w := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return '-'
	}, s)
	if w = strings.Trim(w, "-"); w == "" {
		return "machine"
	}
	return w
}
