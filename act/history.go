package act

import (
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

// HistoryTable lists what was changed, as files and the command line have it: when, by
// the shop's clocks, who, what and from where.
func HistoryTable(all []*shop.Changed, zone words.Zone) *ask.Table {
	t := &ask.Table{Key: "history", Caption: words.Say("history.title"), Columns: []ask.Column{
		{Key: "id", Heading: words.Say("history.number"), Number: true}, {Key: "at", Heading: words.Say("history.when")},
		{Key: "by", Heading: words.Say("history.who")}, {Key: "what", Heading: words.Say("history.did")},
		{Key: "from", Heading: words.Say("history.from")}, {Key: "undone_by", Heading: words.Say("history.undone-by"), Number: true, File: true}}}
	for _, c := range all {
		var back words.Value
		if c.UndoneBy != 0 {
			back = words.Whole(int(c.UndoneBy))
		}
		t.Rows = append(t.Rows, []words.Value{words.Whole(int(c.ID)), zone.Moment(c.At), words.Name(c.By), ChangeSays(c), words.Name(c.From), back})
	}
	return t
}

// ChangeSays says what was changed, in a sentence without its full stop.
func ChangeSays(ch *shop.Changed) words.Message {
	verb, undone := strings.CutPrefix(ch.Verb, shop.TakenBack)
	verb, again := strings.CutPrefix(verb, shop.DoneAgain)
	m := changeDid(ch, ch.Thing+"-"+verb)
	switch {
	case undone:
		return words.Say("history.undone", words.Args{"what": m})
	case again:
		return words.Say("history.redone", words.Args{"what": m})
	}
	return m
}

func changeDid(ch *shop.Changed, key string) words.Message {
	name := words.Name(ch.Name)
	switch {
	case ch.Thing == "design", ch.Thing == "run", key == "order-added":
		return words.Say("change."+key, words.Args{"name": name, "things": words.Whole(ch.Things)})
	case ch.What != "" && slices.Contains([]string{"order", "sheet", "account", "token", "phone"}, ch.Thing):
		return words.Say("change."+key, words.Args{"name": name, "what": words.Name(ch.What)})
	case ch.Thing == "order":
		return words.Say("change.plain-order", words.Args{"name": name})
	case ch.Thing == "sheet":
		return words.Say("change.plain-sheet", words.Args{"name": name})
	case ch.Name == "", ch.Thing == "hours":
		return words.Say("change." + key)
	}
	return words.Say("change."+key, words.Args{"name": name})
}
