package book

import (
	"slices"

	"needlepace/words"
)

// OrderState is how far an order has come.
type OrderState string

// The states of an order, in the order they are passed through.
const (
	Requested OrderState = "requested" // somebody asked for it
	Quoted    OrderState = "quoted"    // a price and a date were given
	Agreed    OrderState = "agreed"    // it is to be made: it is in the plan
	Sewing    OrderState = "sewing"    // the floor has begun it
	Sewn      OrderState = "sewn"      // all its pieces are made
	Delivered OrderState = "delivered" // the customer has it
	Withdrawn OrderState = "withdrawn" // it will not be made (any more)
)

// OrderStates are all states, in their order.
var OrderStates = []OrderState{Requested, Quoted, Agreed, Sewing, Sewn, Delivered, Withdrawn}

// Name is the state in words.
func (s OrderState) Name() words.Message { return words.Say("state." + string(s)) }

// next says to which states a person may take an order from each state. Made
// pieces also take it from Agreed to Sewing and on to Sewn: when the floor
// reports them.
var next = map[OrderState][]OrderState{
	Requested: {Quoted, Agreed, Withdrawn},
	Quoted:    {Requested, Agreed, Withdrawn},
	Agreed:    {Requested, Sewing, Withdrawn},
	Sewing:    {Agreed, Sewn, Withdrawn},
	Sewn:      {Sewing, Delivered, Withdrawn},
	Delivered: {Sewn},
	Withdrawn: {Requested},
}

// Next are the states to which a person may take an order from this one.
func (s OrderState) Next() []OrderState { return slices.Clone(next[s]) }

// Planned reports whether orders of this state are in the plan.
func (s OrderState) Planned() bool { return s == Agreed || s == Sewing }

// Open reports whether something is still to be done about such an order.
func (s OrderState) Open() bool { return s != Delivered && s != Withdrawn }
