package main

import (
	"io"
	"path/filepath"
	"strings"

	"needlepace/book"
	"needlepace/paper"
)

// PaperFlags are how papers are printed.
type PaperFlags struct {
	Paper string `help:"Paper size: A4 or Letter. Default: the shop's." placeholder:"SIZE"`
	Logo  string `help:"The picture for the paper (PNG or JPEG). Default: the one kept in the shop's settings." placeholder:"FILE"`
}

// mostLogo is the largest logo file that is read.
const mostLogo = 8 << 20

// read gives the size of paper and the logo.
func (f PaperFlags) read(d *desk) (paper.Size, []byte, error) {
	name := f.Paper
	if name == "" {
		set, err := d.Settings.Get(d.Context)
		if err != nil {
			return "", nil, err
		}
		name = set.Paper
	}
	size, err := paper.SizeNamed(name)
	if err != nil {
		return "", nil, usageError{err}
	}
	if f.Logo == "" {
		return size, nil, nil
	}
	b, err := readGiven("--logo: ", f.Logo, "name a picture in it", mostLogo)
	return size, b, err
}

// endsIn checks the extensions of files to write.
func endsIn(files ...[3]string) error {
	for _, f := range files {
		if f[1] != "" && !strings.EqualFold(filepath.Ext(f[1]), f[2]) {
			return usagef("%s %s: the name must end in %s", f[0], f[1], f[2])
		}
	}
	return nil
}

func writeQuotePDF(d *desk, q *book.Quote, path string, f PaperFlags) error {
	size, logo, err := f.read(d)
	if err != nil {
		return err
	}
	p, err := paper.QuoteOf(d.Context, d.Asked(), q, logo, d.writer)
	if err != nil {
		return err
	}
	return create(path, func(w io.Writer) error { return p.PDF(w, size) })
}

func writeRunSheetPDF(d *desk, r *book.RunSheet, path string, f PaperFlags) error {
	size, logo, err := f.read(d)
	if err != nil {
		return err
	}
	p, err := paper.RunSheetOf(d.Context, d.Asked(), r, d.Now(), logo, d.writer)
	if err != nil {
		return err
	}
	return create(path, func(w io.Writer) error { return p.PDF(w, size) })
}

func writeXLSX(path string, sheets []paper.Sheet) error {
	return create(path, func(w io.Writer) error { return paper.XLSX(w, sheets...) })
}
