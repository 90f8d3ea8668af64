package serve

import (
	"bytes"
	"errors"
	"io"
	"strings"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/learn"
	"needlepace/learn/card"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/words"
)

// Piece is a test piece with its files.
type Piece struct {
	*ask.TestPieceAnswer
	Files    []string             `json:"files" doc:"get them at /work/{work}/{file}"`
	Contents map[string]jobs.File `json:"-"`
}

// WorkFiles are the files of the test piece.
func (p *Piece) WorkFiles() map[string]jobs.File { return p.Contents }

// PieceOf writes the files of a test piece: stitches in every format that sews it
// as it was reckoned, the card to print, in words as by writes them, and the times
// to fill in.
func PieceOf(a *ask.TestPieceAnswer, by *words.Writer) (*Piece, error) {
	p := &Piece{TestPieceAnswer: a, Contents: map[string]jobs.File{}}
	base := "testpiece-" + FileWord(a.Machine)
	card := &card.Card{Piece: a.Piece, Machine: a.Machine, File: base + ".dst", CSV: base + "-runs.csv", W: by}
	type file struct {
		name, as, mediaType string
		write               func(*bytes.Buffer) error
	}
	var files []file
	for _, ext := range stitchfile.Writable() {
		format, err := stitchfile.WriterFor(ext)
		if err != nil {
			return nil, err
		}
		var cannot *stitchfile.UnsupportedError
		if err := stitchfile.Encode(io.Discard, a.Piece.Design, format); errors.As(err, &cannot) {
			continue
		}
		files = append(files, file{"piece" + ext, base + ext, "application/octet-stream",
			func(b *bytes.Buffer) error { return stitchfile.Encode(b, a.Piece.Design, format) }})
	}
	for _, f := range append(files,
		file{"card.svg", base + "-card.svg", "image/svg+xml",
			func(b *bytes.Buffer) error { return picture.SVG(b, card, picture.Print()) }},
		file{"card.png", base + "-card.png", "image/png",
			func(b *bytes.Buffer) error { return picture.PNG(b, card, picture.Print(), 2) }},
		file{"runs.csv", base + "-runs.csv", "text/csv",
			func(b *bytes.Buffer) error { return learn.WriteRuns(b, a.Piece.Observations(base+".dst"), true) }},
	) {
		var b bytes.Buffer
		if err := f.write(&b); err != nil {
			return nil, err
		}
		p.Contents[f.name] = jobs.File{Name: f.as, MediaType: f.mediaType, Content: b.Bytes()}
		p.Files = append(p.Files, f.name)
	}
	return p, nil
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
