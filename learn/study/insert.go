package study

import (
	"bytes"
	"fmt"
	"io"
	"os"
)

// The marks between which a study's tables stand in a page of docs.
const (
	markBegin = "<!-- study: begin (made by ./dev study) -->\n"
	markEnd   = "<!-- study: end -->\n"
)

// Insert writes tables between the marks of a page, leaving the rest as it is.
func Insert(page string, write func(io.Writer)) error {
	b, err := os.ReadFile(page)
	if err != nil {
		return err
	}
	head, rest, ok := bytes.Cut(b, []byte(markBegin))
	_, tail, ok2 := bytes.Cut(rest, []byte(markEnd))
	if !ok || !ok2 {
		return fmt.Errorf("%s has not the two marks between which the tables go", page)
	}
	var out bytes.Buffer
	out.Write(head)
	out.WriteString(markBegin)
	write(&out)
	out.WriteString(markEnd)
	out.Write(tail)
	return os.WriteFile(page, out.Bytes(), 0o644)
}
