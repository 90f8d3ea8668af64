package shop

import (
	"time"

	"needlepace/ask"
	"needlepace/book"
)

// What package book holds, under the names it had here. They go when nothing
// outside uses them any more.
type (
	Order           = book.Order
	OrderLine       = book.OrderLine
	LineGoods       = book.LineGoods
	OrderState      = book.OrderState
	Hold            = book.Hold
	Change          = book.Change
	Report          = book.Report
	Rates           = book.Rates
	Workshop        = book.Workshop
	WorkshopMachine = book.WorkshopMachine
	ShiftHours      = book.ShiftHours
	DownTime        = book.DownTime
	PlanSpan        = book.Span
	Thread          = book.Thread
)

// The states of an order, as in package book.
const (
	Requested = book.Requested
	Quoted    = book.Quoted
	Agreed    = book.Agreed
	Sewing    = book.Sewing
	Sewn      = book.Sewn
	Delivered = book.Delivered
	Withdrawn = book.Withdrawn
)

// OrderStates are all states, in their order.
var OrderStates = book.OrderStates

// Day is a day as orders keep it.
func Day(t time.Time) string { return book.Day(t) }

// DayTime is the beginning of a kept day in a time zone.
func DayTime(day string, loc *time.Location) (time.Time, error) {
	t, err := book.DayTime(day, loc)
	return t, AsInvalid(err)
}

// ParseWorkshop reads a WORKSHOP.toml; its errors are Invalid.
func ParseWorkshop(name string, toml []byte) (*Workshop, error) {
	w, err := book.ParseWorkshop(name, toml)
	return w, AsInvalid(err)
}

// The questions of package ask under the names they had here; the acts that
// follow them. They go to their users with package act.
type (
	Plan         = book.Plan
	PlanLot      = book.PlanLot
	PlanTotals   = book.PlanTotals
	PlanMachine  = book.PlanMachine
	LineEnd      = book.LineEnd
	LeftOut      = book.LeftOut
	Quote        = book.Quote
	QuoteLine    = book.QuoteLine
	QuoteStep    = book.QuoteStep
	QuoteFee     = book.QuoteFee
	RunSheet     = book.RunSheet
	PlanQuestion = ask.PlanQuestion
	PlanAnswer   = ask.PlanAnswer
	Moved        = ask.Moved
	HandMove     = ask.HandMove
	LineRun      = ask.LineRun
	MachineRates = ask.MachineRates
)

// RecordPath is book.RecordPath.
func RecordPath(number, line int) string { return book.RecordPath(number, line) }
