package shop

import (
	"strings"

	"needlepace/words"
)

// Role is what an account is for.
type Role string

// The roles: each may do what the next one may.
const (
	Owner    Role = "owner"
	Planner  Role = "planner"
	Operator Role = "operator"
)

// May reports whether r includes what need may do.
func (r Role) May(need Role) bool {
	rank := map[Role]int{Operator: 1, Planner: 2, Owner: 3}
	return rank[r] > 0 && rank[r] >= rank[need]
}

// Right is one thing that a role may do. Rights is the one place that says who
// has which; a page or an operation of the API names the right that it needs.
type Right string

// The rights.
const (
	Look         Right = "look"
	AskWhatIf    Right = "ask_what_if"
	TimeRuns     Right = "time_runs"
	RecordPieces Right = "record_pieces"

	KeepDesigns  Right = "keep_designs"
	KeepMachines Right = "keep_machines"
	KeepOrders   Right = "keep_orders"
	MakePlans    Right = "make_plans"
	SeeMoney     Right = "see_money"
	KeepVisits   Right = "keep_visits"
	StopWork     Right = "stop_work"
	KeepPhones   Right = "keep_phones"

	KeepSettings Right = "keep_settings"
	KeepAccounts Right = "keep_accounts"
)

// RightOf says of a right which role has it at least.
type RightOf struct {
	Right Right
	Least Role
}

// Rights are all rights, the lowest role's first. What holds money (rates,
// costs, prices, quotes, kept shifts and comparisons, which hold rates) is for
// planners.
var Rights = []RightOf{
	{Look, Operator},
	{AskWhatIf, Operator},
	{TimeRuns, Operator},
	{RecordPieces, Operator},
	{KeepDesigns, Planner},
	{KeepMachines, Planner},
	{KeepOrders, Planner},
	{MakePlans, Planner},
	{SeeMoney, Planner},
	{KeepVisits, Planner},
	{StopWork, Planner},
	{KeepPhones, Planner},
	{KeepSettings, Owner},
	{KeepAccounts, Owner},
}

// Least is the lowest role that has a right; the owner where nothing is said
// of it.
func (n Right) Least() Role {
	for _, r := range Rights {
		if r.Right == n {
			return r.Least
		}
	}
	return Owner
}

// Says is what somebody who has the right may do.
func (n Right) Says() words.Message { return words.Say("right." + string(n)) }

// Lacking is the error of who has not got the right: what it is, who has it and what to do.
func (n Right) Lacking() error {
	if n.Least() == Owner {
		return Saying(Forbidden, words.Say("refused.right-owner", words.Args{"what": n.Says()}))
	}
	return Saying(Forbidden, words.Say("refused.right-planner", words.Args{"what": n.Says()}))
}

// Has reports whether a role has a right.
func (r Role) Has(n Right) bool { return r.May(n.Least()) }

// MayLetIn reports whether r may let a phone in as role, and take it out: only
// who says who may sign in gives more than the lowest role.
func (r Role) MayLetIn(role Role) bool {
	return r.Has(KeepAccounts) || role == Operator && r.Has(KeepPhones)
}

// Own says in a sentence what a role may do that the roles below it may not.
func (r Role) Own() string {
	var all []string
	for _, n := range Rights {
		if n.Least == r {
			all = append(all, n.Right.Says().Raw())
		}
	}
	return strings.Join(all, "; ")
}
