package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/paper"
	"needlepace/words"
)

// LetterFlags are what a letter to the digitizer says beside the audit.
type LetterFlags struct {
	Letter  string `help:"Write the findings as a letter to the digitizer, to a .pdf or .html file." placeholder:"FILE"`
	Earlier string `help:"An earlier version of the design: which of its findings are gone, and the seconds won." placeholder:"OLD"`
	To      string `help:"Whom the letter greets." placeholder:"NAME"`
	Signed  string `help:"Who signs it, with the lines of the address: parts with ; between." placeholder:"NAME;LINE"`
	Worth   string `help:"What an hour of the machine is worth, e.g. 38EUR: the letter then says money too." placeholder:"AMOUNT"`
	// Language is that of who digitizes, which need be nobody else's here.
	Language string `help:"The paper's language: en, es, pt, tr or vi." default:"en" placeholder:"TAG"`
	PaperFlags
}

// pair is a design, an earlier version of it and a machine.
type pair struct {
	ask.Given
	old *ask.Design
}

// earlierOne names the earlier version of a pair.
const earlierOne = "earlier"

// Design is the design, or the earlier version.
func (p pair) Design(_ context.Context, name string) (*ask.Design, error) {
	if name == earlierOne {
		return p.old, nil
	}
	return p.Stitches, nil
}

// Sheet is the machine's sheet.
func (p pair) Sheet(context.Context, string) (*machine.Sheet, error) { return p.On, nil }

// check says what is wrong with the options before anything is read.
func (f *LetterFlags) check() (t ask.LetterTerms, size paper.Size, err error) {
	by, err := languageNamed(f.Language)
	if err != nil {
		return t, size, err
	}
	if f.Letter == "" && (f.To+f.Signed+f.Worth+f.Paper+f.Logo != "" || by != words.English()) {
		return t, size, usagef("--to, --signed, --worth, --language, --paper and --logo are for a letter: name its file with --letter")
	}
	if ext := strings.ToLower(filepath.Ext(f.Letter)); f.Letter != "" && ext != ".pdf" && ext != ".html" {
		return t, size, usagef("--letter %s: the name must end in .pdf or .html", f.Letter)
	}
	if size, err = paper.SizeNamed(f.Paper); err != nil {
		return t, size, usageError{err}
	}
	t.To = f.To
	t.From, _, _ = strings.Cut(f.Signed, ";")
	if f.Worth != "" {
		if t.Hour, t.Currency, err = amountOf(f.Worth); err != nil {
			return t, size, usagef("--worth %q: give an amount and its currency, e.g. 38EUR", f.Worth)
		}
	}
	return t, size, t.Check()
}

// write writes the letter.
func (f *LetterFlags) write(a *ask.AuditAnswer, t ask.LetterTerms, size paper.Size, made time.Time) error {
	l, err := ask.LetterOf(a, t)
	if err != nil {
		return err
	}
	var head paper.Shop
	if f.Signed != "" {
		for i, s := range strings.Split(f.Signed, ";") {
			if s = strings.TrimSpace(s); i == 0 {
				head.Name = s
			} else if s != "" {
				head.Lines = append(head.Lines, s)
			}
		}
	}
	if f.Logo != "" {
		if head.Logo, err = readGiven("--logo: ", f.Logo, "name a picture in it", mostLogo); err != nil {
			return err
		}
	}
	by, err := languageNamed(f.Language)
	if err != nil {
		return err
	}
	d := paper.LetterOf(l, head, made, &words.Writer{Language: by})
	if strings.EqualFold(filepath.Ext(f.Letter), ".html") {
		err = create(f.Letter, func(w io.Writer) error { return d.HTML(w) })
	} else {
		err = create(f.Letter, func(w io.Writer) error { return d.PDF(w, size) })
	}
	if err != nil {
		return fmt.Errorf("--letter: %w", err)
	}
	return nil
}

// amountOf reads an amount with its currency, 38EUR or 38 EUR.
func amountOf(s string) (decimal.Decimal, string, error) {
	s = strings.TrimSpace(s)
	at := strings.IndexFunc(s, unicode.IsLetter)
	if at < 0 {
		at = len(s)
	}
	v, err := decimal.NewFromString(strings.TrimSpace(s[:at]))
	return v, s[at:], err
}
