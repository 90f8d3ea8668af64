package pages

import (
	"fmt"
	"html/template"
	"strings"

	"needlepace/words"
)

// trustWay is how a kind of telephone is told to trust the shop: once, step by
// step. The steps' sentences say the menus' own words; the sketches are no
// picture of any menu.
type trustWay struct {
	Title words.Message
	Get   words.Message
	File  string // what it is told by
	Steps []trustStep
}

type trustStep struct {
	Sketch template.HTML
	Say    words.Message
}

var trustWays = []trustWay{
	{Title: words.Say("trust.ios"), Get: words.Say("trust.get-profile"),
		File: "/trust/authority.mobileconfig", Steps: []trustStep{
			{sketch("file"), words.Say("trust.ios-get")},
			{sketch("row", 0), words.Say("trust.ios-install")},
			{sketch("pairs"), words.Say("trust.ios-compare")},
			{sketch("row", 4), words.Say("trust.ios-about")},
			{sketch("switch"), words.Say("trust.ios-switch")},
		}},
	{Title: words.Say("trust.android"), Get: words.Say("trust.get-crt"),
		File: "/trust/authority.crt", Steps: []trustStep{
			{sketch("file"), words.Say("trust.android-get")},
			{sketch("row", 3), words.Say("trust.android-find")},
			{sketch("row", 1), words.Say("trust.android-install")},
			{sketch("pairs"), words.Say("trust.android-compare")},
		}},
}

// sketch is a telephone with what a step is about on its screen: a file that
// comes in, one row of a list, a switch, or pairs of figures to compare.
func sketch(what string, row ...int) template.HTML {
	var b strings.Builder
	b.WriteString(`<svg class="sketch" viewBox="0 0 72 120" aria-hidden="true" fill="none" stroke="currentColor" ` +
		`stroke-width="2" stroke-linecap="round" stroke-linejoin="round">` +
		`<rect x="9" y="3" width="54" height="114" rx="8"/>` +
		`<path d="M30 109h12"/>`)
	switch what {
	case "file":
		b.WriteString(`<path class="way" d="M36 28v34M25 51l11 11 11-11"/><path d="M21 70v12h30V70"/>`)
	case "row":
		for i := range 6 {
			y := 17 + 14*i
			if i == row[0] {
				fmt.Fprintf(&b, `<rect class="on" x="15" y="%d" width="42" height="11" rx="2"/>`, y-3)
			} else {
				fmt.Fprintf(&b, `<rect class="off" x="17" y="%d" width="%d" height="5" rx="2"/>`, y, 36-7*(i%3))
			}
		}
	case "switch":
		b.WriteString(`<rect class="off" x="17" y="24" width="36" height="5" rx="2"/>` +
			`<rect class="off" x="17" y="38" width="26" height="5" rx="2"/>` +
			`<rect class="on" x="20" y="56" width="32" height="17" rx="8.500"/>` +
			`<circle class="knob" cx="43.500" cy="64.500" r="5.500"/>`)
	case "pairs":
		for i := range 8 {
			fmt.Fprintf(&b, `<rect class="off" x="%d" y="%d" width="7" height="5" rx="1"/>`, 17+10*(i%4), 24+11*(i/4))
		}
		b.WriteString(`<path class="way" d="M24 68l9 10 17-20"/>`)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}
