package main

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

func TestTheCounterTakesItsLineAway(t *testing.T) {
	var b bytes.Buffer
	c := &counter{w: &b, most: 20, what: "a long description", of: 4}
	c.Add(1)
	if got := b.String(); got != "\ra long description 2\ra long description 2" {
		t.Errorf("more than the line holds is written: %q", got)
	}
	c.Describe("mending")
	if strings.Contains(b.String(), "mending") {
		t.Error("it is written again at once")
	}
	c.next = time.Time{}
	c.Add(1)
	if got := b.String(); !strings.HasSuffix(got, "\rmending 50 %        \rmending 50 %") {
		t.Errorf("a shorter line leaves of the longer one: %q", got)
	}
	c.Finish()
	if got := b.String(); !strings.HasSuffix(got, "\r            \r\r") && !strings.HasSuffix(got, "\r"+strings.Repeat(" ", 12)+"\r\r") {
		t.Errorf("the line stays: %q", got)
	}
	n := b.Len()
	c.Add(1)
	silent := (&Ctx{Err: &b}).bar("x", 3)
	silent.Add(2)
	silent.Finish()
	if b.Len() != n {
		t.Errorf("it is written after its end, or where no terminal is: %q", b.String())
	}
}
