package pages

import (
	"bytes"
	"slices"

	"needlepace/words"
)

// verbatim are elements whose text stays byte by byte as it is: it is sent, run or copied. In
// a drawing no line breaks.
var verbatim = []string{"svg", "script", "style", "textarea", "option", "pre", "code"}

// firm is a page on which no line ends between a number and its unit, see [words.Firm].
// What is marked within a line (<b>36</b> s) is one text with what follows.
func firm(page []byte) []byte {
	out := make([]byte, 0, len(page)+len(page)/64)
	before := "" // the end of the text so far
	for len(page) > 0 {
		open := bytes.IndexByte(page, '<')
		if open < 0 {
			open = len(page)
		}
		if text := page[:open]; len(text) > 0 {
			if bytes.IndexByte(text, ' ') >= 0 {
				out = append(out, words.Firm(before + string(text))[len(before):]...)
			} else {
				out = append(out, text...)
			}
			before = string(text[len(text)-1:])
		}
		page = page[open:]
		end := tagEnd(page)
		name := tagName(page[:end])
		if k := slices.IndexFunc(verbatim, func(v string) bool { return v == string(name) }); k >= 0 {
			if past := bytes.Index(page, []byte("</"+verbatim[k]+">")); past > 0 {
				end, before = past, ""
			}
		}
		out = append(out, page[:end]...)
		page = page[end:]
	}
	return out
}

// tagName is the name of a tag that begins an element; empty for any other.
func tagName(tag []byte) []byte {
	end := 1
	for end < len(tag) && tag[end] >= 'a' && tag[end] <= 'z' {
		end++
	}
	return tag[min(1, len(tag)):min(end, len(tag))]
}
