package book

import (
	"encoding/hex"
	"fmt"
	"strings"

	"needlepace/stitch"
)

// Thread is one colour of a design.
type Thread struct {
	Name   string `json:"name"`
	Colour string `json:"colour"` // #rrggbb; empty where the file does not say
}

// Design is what the order book must know of a design.
type Design struct {
	ID          string
	Name        string // what people call it
	File        string // the file it came in, without folders
	Label       string // the name inside the file, may be empty
	Stitches    int    // needle penetrations
	ColourStops int
	WidthMM     float64
	HeightMM    float64
	Threads     []Thread // in the order of the colour blocks
	Removed     bool     // taken off the shop's list
}

// LabelBeside is the label inside its file as it is shown beside its file's name.
func (d *Design) LabelBeside() string { return LabelBeside(d.File, d.Label) }

// BlockThreads names the thread of every colour block: the line's, else the
// design's, else "colour 3" of that design.
func BlockThreads(l *OrderLine, d *Design) []string {
	out := make([]string, d.ColourStops+1)
	for k := range out {
		switch {
		case k < len(l.Threads) && l.Threads[k] != "":
			out[k], _ = SplitThread(l.Threads[k])
		case k < len(d.Threads) && d.Threads[k].Name != "":
			out[k] = d.Threads[k].Name
		case k < len(d.Threads) && d.Threads[k].Colour != "":
			out[k] = d.Threads[k].Colour
		default:
			out[k] = fmt.Sprintf("%s, colour %d", d.Name, k+1)
		}
	}
	return out
}

// SplitThread takes a thread as people write it, "harbour navy #1a2a58", apart:
// its name, and its colour where they gave one. A colour alone is its own name.
func SplitThread(s string) (name, colour string) {
	s = strings.TrimSpace(s)
	if i := strings.LastIndexByte(s, '#'); i >= 0 && len(s)-i == 7 {
		if b, err := hex.DecodeString(s[i+1:]); err == nil && len(b) == 3 {
			if name = strings.TrimSpace(s[:i]); name == "" {
				name = s
			}
			return name, s[i:]
		}
	}
	return s, ""
}

// BlockColours are the colours of the blocks' threads as #rrggbb: the line's,
// else the design's; empty where nobody said.
func BlockColours(l *OrderLine, d *Design) []string {
	out := make([]string, d.ColourStops+1)
	for k := range out {
		name := ""
		if k < len(l.Threads) {
			name, out[k] = SplitThread(l.Threads[k])
		}
		if out[k] != "" {
			continue
		}
		if name == "" && k < len(d.Threads) {
			out[k] = d.Threads[k].Colour
		}
		for _, t := range d.Threads { // a thread the design knows by name
			if name != "" && strings.EqualFold(t.Name, name) {
				out[k] = t.Colour
			}
		}
	}
	return out
}

// OnNeedles gives every colour block the needle of its thread: threads take
// the needles in the order in which they are first sewn, and one that comes
// again has its needle already.
func OnNeedles(blocks []string, needles int) (threads []string, of []int) {
	at := map[string]int{}
	for _, t := range blocks {
		key := strings.ToLower(t)
		n, ok := at[key]
		if !ok {
			n = len(threads)
			at[key] = n
			threads = append(threads, t)
		}
		of = append(of, n%max(needles, 1))
	}
	return threads, of
}

// WithThreads is a design with other threads in the order of its colour blocks;
// none leave it as it is.
func WithThreads(d *stitch.Design, threads []Thread) *stitch.Design {
	if len(threads) == 0 {
		return d
	}
	out := *d
	out.Threads = nil
	for _, t := range threads {
		th := stitch.Thread{Name: t.Name}
		if n, err := fmt.Sscanf(t.Colour, "#%02x%02x%02x", &th.R, &th.G, &th.B); err == nil && n == 3 {
			th.Known = true
		}
		out.Threads = append(out.Threads, th)
	}
	return &out
}

// Coloured is a design with the threads an order gives its colour blocks: their
// names and colours, #rrggbb.
func Coloured(d *stitch.Design, names, colours []string) *stitch.Design {
	var all []Thread
	for k, n := range names {
		all = append(all, Thread{Name: n, Colour: colours[k]})
	}
	return WithThreads(d, all)
}

// LabelBeside is the label inside a design's file as it is shown beside what the
// design is called: empty where there is none, or where it is the name or its
// beginning (a label has little room).
func LabelBeside(name, label string) string {
	plain := strings.NewReplacer("-", " ", "_", " ")
	label = strings.TrimSpace(label)
	if strings.HasPrefix(plain.Replace(strings.ToLower(name)), plain.Replace(strings.ToLower(label))) {
		return ""
	}
	return label
}
