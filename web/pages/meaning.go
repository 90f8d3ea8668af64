package pages

import (
	"bytes"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/net/html"

	"needlepace/help"
	"needlepace/words"
)

// untouched are elements in which no word is explained: what is pressed or typed in
// cannot hold a button, and titles and what programs wrote stay as they are.
var untouched = []string{"a", "button", "label", "summary", "select", "textarea", "script", "style", "svg", "canvas", "h1", "legend",
	"code", "pre", "dialog", "title", "noscript" /* read as one text, addresses and all */}

// explained is a page on which each word of the glossary says what it means where it
// stands first: a button that opens its meaning, for pointer, finger and keyboard
// alike, without a script. Languages without a glossary are left as they are.
func explained(page []byte, w *words.Writer) []byte {
	from := bytes.Index(page, []byte("<main"))
	end := bytes.LastIndex(page, []byte("</main>"))
	if from < 0 || end < from || w.Tag() != words.English().Tag.String() {
		return page
	}
	wanted := glossaryOf(w)
	out := bytes.NewBuffer(make([]byte, 0, len(page)+4096))
	out.Write(page[:from])
	lean, leapt := withoutDrawings(page[from:end]) // most of a list are strips
	z := html.NewTokenizer(bytes.NewReader(lean))
	var meanings strings.Builder
	skipped, depth := "", 0
	at, inLean := from, 0
	for wanted.left > 0 { // the rest is as it is
		kind := z.Next()
		if kind == html.ErrorToken {
			break
		}
		raw := z.Raw()
		at, inLean = at+len(raw), inLean+len(raw)
		switch kind {
		case html.StartTagToken:
			raw = slices.Clone(raw) // reading the name changes it
			name, attrs := z.TagName()
			tag := string(name)
			if skipped == "" && (slices.Contains(untouched, tag) || attrs && unheard(z)) && !isVoid(tag) {
				skipped = tag
			}
			if tag == skipped {
				depth++
			}
		case html.EndTagToken:
			raw = slices.Clone(raw)
			if name, _ := z.TagName(); string(name) == skipped {
				if depth--; depth == 0 {
					skipped = ""
				}
			}
		case html.TextToken:
			if skipped == "" {
				raw = []byte(wanted.mark(string(raw), &meanings, w))
			}
		}
		out.Write(raw)
		if len(leapt) > 0 && leapt[0].at == inLean {
			out.Write(page[at : at+leapt[0].size])
			at, leapt = at+leapt[0].size, leapt[1:]
		}
	}
	out.Write(page[at:end])
	out.WriteString(meanings.String())
	out.Write(page[end:])
	return out.Bytes()
}

// drawing is what a drawing holds: where it was left out, and its bytes.
type drawing struct{ at, size int }

// withoutDrawings is HTML with what its drawings hold left out: nothing in them is explained,
// and to read them takes most of the time.
func withoutDrawings(body []byte) (lean []byte, left []drawing) {
	lean = make([]byte, 0, len(body))
	for {
		open := bytes.Index(body, []byte("<svg"))
		if open < 0 {
			return append(lean, body...), left
		}
		from := open + tagEnd(body[open:])
		size := bytes.Index(body[from:], []byte("</svg>"))
		lean = append(lean, body[:from]...)
		body = body[from:]
		if size > 0 && !bytes.Contains(body[:size], []byte("<svg")) {
			left = append(left, drawing{len(lean), size})
			body = body[size:]
		}
	}
}

// tagEnd is where a tag that b begins with ends; all of b where it does not.
func tagEnd(b []byte) int {
	var quote byte
	for i, c := range b {
		switch {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '>':
			return i + 1
		}
	}
	return len(b)
}

// unheard reports whether a tag is left out of what is read aloud.
func unheard(z *html.Tokenizer) bool {
	for {
		key, value, more := z.TagAttr()
		if string(key) == "aria-hidden" && string(value) == "true" || string(key) == "class" && slices.Contains(strings.Fields(string(value)), "vh") {
			return true
		}
		if !more {
			return false
		}
	}
}

func isVoid(tag string) bool {
	return slices.Contains([]string{"br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}, tag)
}

// glossary are the words that are still to be explained on a page.
type glossary struct {
	words []termWord
	// by are the words by the first byte of them, small or capital, as indexes into words.
	by   [256][]int
	left int // of the words
}

type termWord struct {
	term          help.Term
	word, capital string
	done          bool
	from, to      int // where it stands first in the text that is looked at; to is 0 for nowhere
}

func glossaryOf(w *words.Writer) *glossary {
	g := &glossary{words: make([]termWord, 0, len(help.Terms)), left: len(help.Terms)}
	for i, t := range help.Terms {
		word := t.Word().Text(w)
		g.words = append(g.words, termWord{term: t, word: word, capital: capital(word)})
		for _, first := range slices.Compact([]byte{word[0], g.words[i].capital[0]}) {
			g.by[first] = append(g.by[first], i)
		}
	}
	return g
}

// mark is a text with the words that stand in it as buttons; each is then
// explained, and its meaning is written.
func (g *glossary) mark(text string, meanings *strings.Builder, w *words.Writer) string {
	if !g.find(text) {
		return text
	}
	var places []*termWord
	for i := range g.words {
		t := &g.words[i]
		if t.to == 0 {
			continue
		}
		if !slices.ContainsFunc(places, func(p *termWord) bool { return t.from < p.to && p.from < t.to }) {
			places = append(places, t)
			continue
		}
		t.to = 0
	}
	slices.SortFunc(places, func(a, b *termWord) int { return b.from - a.from })
	for _, p := range places {
		button := fmt.Sprintf(`<button type="button" class="term" popovertarget="means-%s">%s</button>`, p.term.Key, text[p.from:p.to])
		past := p.to
		if past < len(text) && strings.IndexByte(",.;:)?!", text[past]) >= 0 { // no line begins with it
			past++
			button = `<span class="nb">` + button + text[p.to:past] + "</span>"
		}
		text = text[:p.from] + button + text[past:]
		fmt.Fprintf(meanings, `<div class="means noprint" popover id="means-%s"><p><b>%s</b> %s <a href="%s">%s</a></p></div>`, p.term.Key,
			template.HTMLEscapeString(p.word), template.HTMLEscapeString(p.term.Says().Text(w)), help.Root+p.term.At,
			template.HTMLEscapeString(words.Say("help.more").Text(w)))
		p.done, p.to = true, 0
		g.left--
	}
	return text
}

// find looks where each word, or more of it, stands first in a text as a word, and reports
// whether any does.
func (g *glossary) find(text string) (any bool) {
	before := utf8.RuneError
	for from, r := range text {
		if !within(before) {
			for _, i := range g.by[text[from]] {
				t := &g.words[i]
				if t.done || t.to > 0 || !strings.HasPrefix(text[from:], t.word) && !strings.HasPrefix(text[from:], t.capital) {
					continue
				}
				to := from + len(t.word)
				if strings.HasPrefix(text[to:], "s") {
					to++
				}
				if after, _ := utf8.DecodeRuneInString(text[to:]); !within(after) {
					t.from, t.to, any = from, to, true
				}
			}
		}
		before = r
	}
	return any
}

// within reports whether a sign goes on with a word.
func within(r rune) bool {
	return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-' || r == '_'
}
