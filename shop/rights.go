package shop

import "strings"

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

// RightOf says of a right which role has it at least, and in words what it is.
type RightOf struct {
	Right Right
	Least Role
	Words string // what somebody who has it may do
}

// Rights are all rights, the lowest role's first. What holds money (rates,
// costs, prices, quotes, kept shifts and comparisons, which hold rates) is for
// planners.
var Rights = []RightOf{
	{Look, Operator, "see designs, run times and audits, machines and their sheets, orders without prices, " +
		"run sheets and the plan"},
	{AskWhatIf, Operator, "ask what would be if, where nothing is kept: a mend, a test piece, " +
		"an order rushed or a machine down"},
	{TimeRuns, Operator, "time runs, and see and stop the long work they asked for themselves"},
	{RecordPieces, Operator, "start a line of an order on a machine and record its pieces"},
	{KeepDesigns, Planner, "take in designs, describe them, take them off the list and put them back"},
	{KeepMachines, Planner, "add machines, change their sheets, learn sheets from runs, take out runs"},
	{KeepOrders, Planner, "take orders, change them, move them on and hold their lines on machines"},
	{MakePlans, Planner, "make the plan"},
	{SeeMoney, Planner, "see and set working hours, rates and prices: quotes, what shifts cost, " +
		"comparisons of machines"},
	{KeepVisits, Planner, "keep visits, the work of one who advises a client: trials of machines, what comes back, papers"},
	{StopWork, Planner, "see and stop the long work of others"},
	{KeepPhones, Planner, "let phones in as operators, and take them out"},
	{KeepSettings, Owner, "change the settings and the picture on papers, and put in the demo shop"},
	{KeepAccounts, Owner, "say who may sign in, and as what; open and close the door for phones"},
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

// Words say what somebody who has the right may do.
func (n Right) Words() string {
	for _, r := range Rights {
		if r.Right == n {
			return r.Words
		}
	}
	return string(n)
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
			all = append(all, n.Words)
		}
	}
	return strings.Join(all, "; ")
}
