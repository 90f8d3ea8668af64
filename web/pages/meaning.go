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
	"code", "pre", "dialog", "title"}

// explained is a page on which each word of the glossary says what it means where it
// stands first: a button that opens its meaning, for pointer, finger and keyboard
// alike, without a script. Languages without a glossary are left as they are.
func explained(page []byte, w *words.Writer) []byte {
	from := bytes.Index(page, []byte("<main"))
	end := bytes.LastIndex(page, []byte("</main>"))
	if from < 0 || end < from || w.Tag() != words.English().Tag.String() {
		return page
	}
	var wanted []help.Term
	for _, t := range help.Terms {
		word := t.Word().Text(w)
		if bytes.Contains(page[from:end], []byte(word)) || bytes.Contains(page[from:end], []byte(capital(word))) {
			wanted = append(wanted, t)
		}
	}
	if len(wanted) == 0 {
		return page
	}
	out := bytes.NewBuffer(make([]byte, 0, len(page)+4096))
	out.Write(page[:from])
	z := html.NewTokenizer(bytes.NewReader(page[from:end]))
	var meanings strings.Builder
	skipped, depth := "", 0
	at := from
	for len(wanted) > 0 { // the rest is as it is
		kind := z.Next()
		if kind == html.ErrorToken {
			break
		}
		raw := z.Raw()
		at += len(raw)
		switch kind {
		case html.StartTagToken:
			raw = slices.Clone(raw) // reading the name changes it
			name, attrs := z.TagName()
			tag := string(name)
			if tag == "svg" && skipped == "" { // most of a list are strips: they are leapt over
				if n := bytes.Index(page[at:end], []byte("</svg>")); n >= 0 && !bytes.Contains(page[at:at+n], []byte("<svg")) {
					out.Write(raw)
					out.Write(page[at : at+n])
					at += n
					z = html.NewTokenizer(bytes.NewReader(page[at:end]))
					continue
				}
			}
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
				raw = []byte(marked(string(raw), &wanted, &meanings, w))
			}
		}
		out.Write(raw)
	}
	out.Write(page[at:end])
	out.WriteString(meanings.String())
	out.Write(page[end:])
	return out.Bytes()
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

// marked is a text with the wanted words that stand in it as buttons; each is then
// no longer wanted, and its meaning is written.
func marked(text string, wanted *[]help.Term, meanings *strings.Builder, w *words.Writer) string {
	type place struct {
		from, to int
		term     help.Term
	}
	var places []place
	*wanted = slices.DeleteFunc(*wanted, func(t help.Term) bool {
		word := t.Word().Text(w)
		if !strings.Contains(text, word[1:]) {
			return false
		}
		from, to := standsIn(text, word)
		if from < 0 || slices.ContainsFunc(places, func(p place) bool { return from < p.to && p.from < to }) {
			return false
		}
		places = append(places, place{from, to, t})
		return true
	})
	slices.SortFunc(places, func(a, b place) int { return b.from - a.from })
	for _, p := range places {
		word := p.term.Word().Text(w)
		text = text[:p.from] + fmt.Sprintf(`<button type="button" class="term" popovertarget="means-%s">%s</button>`, p.term.Key, text[p.from:p.to]) +
			text[p.to:]
		fmt.Fprintf(meanings, `<div class="means noprint" popover id="means-%s"><p><b>%s</b> %s <a href="%s">%s</a></p></div>`, p.term.Key,
			template.HTMLEscapeString(word), template.HTMLEscapeString(p.term.Says().Text(w)), help.Root+p.term.At,
			template.HTMLEscapeString(words.Say("help.more").Text(w)))
	}
	return text
}

// standsIn is where a word, or more of it, stands first in a text as a word; −1 for
// nowhere.
func standsIn(text, word string) (from, to int) {
	for from = range text {
		if !strings.HasPrefix(text[from:], word) && !strings.HasPrefix(text[from:], capital(word)) {
			continue
		}
		to = from + len(word)
		if strings.HasPrefix(text[to:], "s") {
			to++
		}
		before, _ := utf8.DecodeLastRuneInString(text[:from])
		after, _ := utf8.DecodeRuneInString(text[to:])
		if !within(before) && !within(after) {
			return from, to
		}
	}
	return -1, -1
}

// within reports whether a sign goes on with a word.
func within(r rune) bool {
	return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-' || r == '_'
}
