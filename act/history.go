package act

import (
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
		t.Rows = append(t.Rows, []words.Value{words.Whole(int(c.ID)), zone.Moment(c.At), words.Name(c.By), ChangeSays(c), ChangeFrom(c), back})
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
	case key == "visit-changed":
		return visitDid(ch)
	case ch.Thing == "design", ch.Thing == "run", key == "order-added":
		return words.Say("change."+key, words.Args{"name": name, "things": words.Whole(ch.Things)})
	case ch.What != "" && (ch.Thing == "account" || ch.Thing == "token" || ch.Thing == "phone"):
		return words.Say("change."+key, words.Args{"name": name, "what": comesIn(ch.What)})
	case ch.What != "" && (ch.Thing == "order" || ch.Thing == "sheet"):
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

// comesIn says what a store noted of one who may come in.
func comesIn(what string) words.Value {
	switch what {
	case "shut out":
		return words.Say("change.shut-out")
	case "let in again":
		return words.Say("change.let-in")
	case "a new password":
		return words.Say("change.new-password")
	case "came in by its code":
		return words.Say("change.came-in")
	case "a new code":
		return words.Say("change.new-code")
	}
	if role, ok := strings.CutPrefix(what, "as "); ok {
		return words.Say("change.as-role", words.Args{"role": words.Say("role." + role)})
	}
	return words.Name(what)
}

// ChangeFrom says where a change came from, as a client's way in and its address.
func ChangeFrom(ch *shop.Changed) words.Value {
	way, host, _ := strings.Cut(ch.From, " ")
	switch way {
	case shop.FromCommand, shop.FromMachine:
		return words.Say("change-from." + way)
	case shop.FromPage, shop.FromAPI, shop.FromToken, shop.FromPhone:
		return words.Say("change-from."+strings.ToLower(way), words.Args{"host": words.Name(host)})
	}
	return words.Name(ch.From)
}
