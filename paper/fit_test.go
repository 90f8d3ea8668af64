package paper

import (
	"fmt"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/picture"
	"needlepace/words"
)

// fullSheet is a run sheet with so many colours and all that one can have: every
// caution, every fact, a code.
func fullSheet(t testing.TB, colours int) *RunSheet {
	r := sampleSheet(t)
	r.Colours = nil
	for i := range colours {
		r.Colours = append(r.Colours, RunColour{Needle: i%15 + 1, Thread: fmt.Sprintf("harbour navy of the long name %d", i+1), Colour: picture.RGB{R: 20, G: uint8(10 * i), B: 90},
			Change: "put on", Stitches: 1234, Seconds: 95, From: 95 * float64(i)})
	}
	r.Cautions = nil
	for _, c := range book.Cautions() {
		r.Cautions = append(r.Cautions, c.Text(nil))
	}
	r.Cautions = append(r.Cautions, "Cap frame: check that the driver turns freely and clears the arm before the first cap.",
		"Metallic thread: larger needle eye and lower tension; expect more breaks.",
		"Heavy goods: support their weight beside the frame so that they do not drag on it.")
	r.Link = "http://192.168.1.20:8765/orders/1003/record?line=2&machine=abcdefghijklmnopqrst"
	return r
}

// Up to 15 colours all stands on one page, cautions and record box too, whatever the
// paper. More colours make a pair: the first page has all but the colours, the second one all
// of them, up to what a page holds.
func TestUpTo15ColoursAreOnePageAndMoreAPair(t *testing.T) {
	for _, size := range []Size{A4, Letter} {
		for _, n := range []int{1, 5, 9, 12, 15, 16, 18, 20, 22, 30, 40} {
			r := fullSheet(t, n)
			pages := readback.Pages(t, sheetPDF(t, r, size))
			if n <= 15 && len(pages) != 1 || n > 20 && len(pages) != 2 || len(pages) > 2 {
				t.Errorf("%s, %d colours: %d pages", size, n, len(pages))
				continue
			}
			first, last := pages[0], pages[len(pages)-1]
			for _, c := range append([]string{"850", "good"}, r.Cautions...) {
				if !hasAll(first, c) {
					t.Errorf("%s, %d colours: the first page has no %q", size, n, c)
				}
			}
			for i, c := range r.Colours {
				if !strings.Contains(last, c.Thread) {
					t.Errorf("%s, %d colours: colour %d is not on the page of the colours", size, n, i+1)
					break
				}
			}
		}
	}
}

// hasAll reports whether every word of a text stands on a page: lines beside each
// other are read in turn.
func hasAll(page, text string) bool {
	for w := range strings.FieldsSeq(text) {
		if !strings.Contains(page, w) {
			return false
		}
	}
	return true
}

// The code is there whether or not a phone can open it, and the paper says where not.
func TestTheCodeSaysWhereAPhoneCannotOpenIt(t *testing.T) {
	for page, says := range map[string]string{
		"/orders/1003/record?line=2&machine=x": "order, line and machine", "http://127.0.0.1:8765/orders/1": "this computer only",
		"http://localhost:8765/orders/1": "this computer only", "http://[::1]:80/x": "this computer only",
		"https://shop.example/orders/1003/record": "scan to record",
	} {
		r := fullSheet(t, 4)
		r.Link, r.Reach = page, ask.RunSheetReach(page).Text(nil)
		if text := strings.Join(readback.Pages(t, sheetPDF(t, r, A4)), " "); !strings.Contains(strings.Join(strings.Fields(text), " "), says) {
			t.Errorf("%s: the paper does not say %q", page, says)
		}
	}
}

// The foot of a paper of a shop that has no name begins with what the paper is.
func TestTheFootOfAShopWithoutAName(t *testing.T) {
	for name, want := range map[string]string{"": "quote 7-1, 3 Mar 2026", "Quay": "Quay  ·  quote 7-1, 3 Mar 2026"} {
		line := words.Say("quote.foot", words.Args{"shop": words.Name(name), "serial": words.Name("7-1"), "day": words.NewDay(2026, 3, 3)}).Text(nil)
		if got := (&Shop{Name: name}).foot(line); got != want {
			t.Errorf("%q: %q", name, got)
		}
	}
}
