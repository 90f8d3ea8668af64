package help

import (
	"strings"

	"needlepace/words"
)

// Term is a word that has a sense of its own here.
type Term struct {
	Key string // of its words
	At  string // topic and heading that say more
}

// Word is the word itself.
func (t Term) Word() words.Message { return words.Say("glossary-word." + t.Key) }

// Says is what it means, in a sentence or two.
func (t Term) Says() words.Message { return words.Say("glossary." + t.Key) }

// Terms are all of them, in the order of the alphabet.
var Terms = []Term{
	{"audit", "reading-an-audit"},
	{"colour-stop", "model#where-the-seconds-go"},
	{"evidence", "machine-sheets#a-class-from-learned-machines"},
	{"finding", "reading-an-audit"},
	{"held-speed", "model#why-the-number-on-the-machine-is-not-the-speed-it-holds"},
	{"knee", "orders-and-plan#6-to-the-floor"},
	{"learned-sheet", "how-to-time-a-machine#4-learn"},
	{"lot", "orders-and-plan#4-the-plan"},
	{"machine-class", "machine-sheets#start-from-the-nearest-class"},
	{"machine-sheet", "machine-sheets"},
	{"mend", "reading-an-audit#mending"},
	{"mix", "comparing-machines#the-mix"},
	{"overall-speed", "model#why-the-number-on-the-machine-is-not-the-speed-it-holds"},
	{"promise", "orders-and-plan#3-quotes"},
	{"ramp", "model#where-the-seconds-go"},
	{"rated-speed", "model#why-the-number-on-the-machine-is-not-the-speed-it-holds"},
	{"run-sheet", "orders-and-plan#6-to-the-floor"},
	{"set-speed", "model#why-the-number-on-the-machine-is-not-the-speed-it-holds"},
	{"shift", "what-a-shift-yields"},
	{"course", "model#where-the-seconds-go"},
	{"test-piece", "how-to-time-a-machine#1-make-the-test-piece"},
	{"timing", "how-to-time-a-machine#2-time-it"},
	{"sewing-trace", "model#how-fast-one-stitch-may-go"},
	{"usual-sum", "model"},
}

// glossaryDoc is the topic of the glossary, as docs/ has it.
func glossaryDoc() string {
	var b strings.Builder
	b.WriteString("# Words\n\nThe words that needlepace uses in a sense of its own, or that not every shop knows. On a page each is underlined with dots " +
		"where it stands first.\n")
	for _, t := range Terms {
		topic, id, _ := strings.Cut(t.At, "#")
		at := topic + ".md"
		if id != "" {
			at += "#" + id
		}
		b.WriteString("\n## " + t.Word().Text(nil) + "\n\n" + t.Says().Text(nil) + " [More](" + at + ")\n")
	}
	return b.String()
}
