package pages

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"needlepace/ask"
	"needlepace/shop"
)

// setupOwn is what the forms of kept setups have besides the keys of the file.
type setupOwn struct {
	Sent       bool   `toml:"form"`
	More       bool   `toml:"more"`       // work out one more of each
	Name       string `toml:"setup_name"` // of the kept setup
	TOML       string `toml:"whole_file"` // a whole file instead
	AddMachine string `toml:"add_machine"`
	Version    *count `toml:"version"` // that the form was made from
}

// setupAsked is a kept setup with what a form asks of it.
type setupAsked struct {
	kept *shop.Setup
	toml string // the file with the form's changes; as kept where the form is wrong
	form *form
	own  setupOwn
}

// setupAsked reads the kept setup of the address and a form. was becomes what
// the file has of the form's keys, sent what the form says; own is the own part
// of sent. change completes sent by was; what it takes for wrong it marks.
func (c *call) setupAsked(kind shop.SetupKind, was, sent any, own *setupOwn, change func(*form) error) (
	*setupAsked, error,
) {
	kept, err := c.Shop.Setups.Get(c.Ctx, c.PathValue("setup"))
	if err != nil {
		return nil, err
	}
	if kept.Kind != kind {
		return nil, shop.Errorf(shop.NotFound, "%q is kept for another page", kept.Name)
	}
	s := &setupAsked{kept: kept, toml: kept.TOML}
	if s.form, err = c.form(sent); err != nil {
		return nil, err
	}
	if err := toml.Unmarshal([]byte(kept.TOML), was); err != nil {
		return nil, shop.Invalidf("what is kept as %q cannot be read: %w", kept.Name, err)
	}
	s.own = *own
	s.form.sent = own.Sent || own.TOML != ""
	switch {
	case own.TOML != "":
		s.toml = own.TOML
		return s, nil
	case !own.Sent:
		return s, nil
	}
	if err := change(s.form); err != nil || s.form.bad() {
		return s, err
	}
	b, err := overFile([]byte(kept.TOML), sent)
	if err != nil {
		return nil, fmt.Errorf("a setup cannot be written: %w", err)
	}
	s.toml = string(b)
	return s, nil
}

// shows reports whether the page shows the form as it was sent, and not as it is kept.
func (s *setupAsked) shows() bool { return s.own.Sent && s.own.TOML == "" }

// keepSetup keeps a setup that was sent to be kept, and goes on to its page. Where
// it was not, or cannot be, done is false; the form says why.
func (c *call) keepSetup(s *setupAsked, back string) (done bool, err error) {
	if !c.posted() || s.form.bad() {
		return false, nil
	}
	next := *s.kept
	next.TOML, next.Name = s.toml, cmp.Or(s.own.Name, next.Name)
	next.Version = int(or(s.own.Version, count(next.Version)))
	if _, err := c.Shop.Setups.Save(c.Ctx, next); err != nil {
		if shop.CodeOf(err) == shop.Conflict { // it is told: what is sent again takes its place
			s.own.Version = some(count(s.kept.Version))
		}
		return false, s.form.take(err)
	}
	return true, c.see(back + s.kept.ID)
}

// newSetup keeps a new setup, by the struct of its file, and gives the address of its page.
func (c *call) newSetup(at string, kind shop.SetupKind, name string, file any) (string, error) {
	b, err := toml.Marshal(file)
	if err != nil {
		return "", err
	}
	kept, err := c.Shop.Setups.Save(c.Ctx, shop.Setup{Kind: kind, Name: name, TOML: string(b)})
	if err != nil {
		return "", err
	}
	return at + kept.ID, nil
}

// toBegin is what a first setup is made of: the shop's machines and its newest designs.
func (c *call) toBegin(what string, most int) (machines []*shop.Machine, designs []ask.Named, err error) {
	if machines, err = c.Shop.Machines.List(c.Ctx); err != nil {
		return nil, nil, err
	}
	newest, _, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: most})
	if err == nil && (len(machines) == 0 || len(newest) == 0) {
		err = shop.Invalidf("%s needs at least one machine and one design of yours: add them first", what)
	}
	for _, d := range newest {
		designs = append(designs, ask.Named{ID: d.ID, Name: d.Name})
	}
	return machines, designs, err
}

// answerTo puts a question about the setup as it was asked for. Where that is
// wrong the form says why, and there is no answer (nil): one to other numbers than
// those that stand beside it would be none. What is kept may be wrong too: it may
// name a machine that was taken off the list since.
func answerTo[A any](s *setupAsked, question func(toml string) (*A, error)) (*A, error) {
	if s.form.bad() {
		return nil, nil
	}
	a, err := question(s.toml)
	if err != nil {
		return nil, s.form.take(err)
	}
	return a, nil
}

// Asked reports whether the page's answer is to what the form says, and not to what
// is kept.
func (s *setupAsked) Asked() bool { return s.form.sent && !s.form.bad() }

// Name is what the setup is called, or is to be.
func (s *setupAsked) Name() string { return firstOf(s.own.Name, s.kept.Name) }

// Version is the one that the form is made from.
func (s *setupAsked) Version() int {
	return int(or(s.own.Version, count(s.kept.Version)))
}

// File is its whole file, or what was sent for it where that is wrong.
func (s *setupAsked) File() string {
	if s.form.bad() {
		return firstOf(s.own.TOML, s.kept.TOML)
	}
	return s.kept.TOML
}

// added says in the form that an entry was put in a list, with what is known of it: its
// other fields are there, and empty.
func (f *form) added(list string, n int, entry any, known map[string]string) {
	prefix := fmt.Sprintf("%s[%d].", list, n)
	for _, x := range (&form{}).fields(prefix, entry, nil) {
		f.typed.Set(x.Name, "")
	}
	for key, value := range known {
		f.typed.Set(prefix+key, value)
	}
}

// entryOwn is what the form has of an entry of a list besides the file's keys.
type entryOwn struct {
	Here bool `toml:"here"` // it is in the form, be all its fields empty
	Drop bool `toml:"drop"` // it is to be taken out
}

// matches reports whether a form has the entries of the file, and perhaps some more;
// else the file was changed meanwhile.
func (f *form) matches(sent, kept int) bool {
	if sent >= kept {
		return true
	}
	f.told = append(f.told, "This was changed meanwhile. Load the page anew and change it there.")
	return false
}

func newName(kind string, n int) string { return kind + " " + strconv.Itoa(n+1) }

// firstOf is the first text that is not empty.
func firstOf(all ...string) string {
	for _, s := range all {
		if strings.TrimSpace(s) != "" {
			return s
		}
	}
	return ""
}
