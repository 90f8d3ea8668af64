package api

import "needlepace/shop"

// The bodies of requests and answers, for the tests.
type (
	AccountChange  = accountChange
	AccountNew     = accountNew
	AddedPage      = addedPage
	AuditAsked     = auditAsked
	ClassPage      = classPage
	EvidenceListed = evidenceListed
	EvidenceNew    = evidenceNew
	EvidencePage   = evidencePage
	TrialEvidence  = trialEvidence
	PoolAsked      = poolAsked
	PooledAnswer   = pooledAnswer
	StartAsked     = startAsked
	DesignOne      = designOne
	HistoryAnswer  = historyAnswer
	LearnAsked     = learnAsked
	LearnedAnswer  = learnedAnswer
	LineHold       = lineHold
	LineOnMachine  = lineOnMachine
	LineOnly       = lineOnly
	MachineAnswer  = machineAnswer
	MachineNew     = machineNew
	ListNew        = listNew
	ListName       = listName
	ListPage       = listPage
	MendAnswer     = mendedAnswer
	MendAsked      = mendAsked
	MendManyAsked  = mendManyAsked
	MendedMany     = mendedManyAnswer
	MoveAsked      = moveAsked
	OrderHistory   = orderHistory
	OrderKept      = orderKept
	OrderMove      = orderMove
	OrderNew       = orderNew
	OrderPage      = orderPage
	OrderPart      = orderPart
	PieceAsked     = pieceAsked
	PlanKept       = planKept
	PlanNew        = planNew
	PlanTold       = planTold
	PlanTry        = planTry
	QuoteNew       = quoteNew
	QuotePage      = quotePage
	RecordedAnswer = recordedAnswer
	BackNew        = backNew
	DeliveryNew    = deliveryNew
	DeliveryPage   = deliveryPage
	Delivered      = deliveredAnswer
	ReportNew      = reportNew
	ReportPage     = reportPage
	RunNew         = runNew
	RunPage        = runPage
	RunsNew        = runsNew
	RunsRead       = runsRead
	RushOrder      = rushOrder
	SessionAnswer  = sessionAnswer
	SetupCheck     = setupCheck
	SetupNew       = setupNew
	SetupPage      = setupPage
	SheetChange    = sheetChange
	SignInAsked    = signInAsked
	SimAsked       = simAsked
	TimingNew      = timingNew
	TimingPage     = timingPage
	UndoAsked      = undoAsked
	VisitSaid      = visitSaid
	VisitsPage     = visitsPage
	WholeVisit     = wholeVisit
	TrialAsked     = trialAsked
	ReturnTaken    = returnTaken
	CallAsked      = callAsked
	CallOpened     = callOpened
	EntriesTaken   = entriesTaken
	WholeCall      = wholeCall
	WorkshopFile   = workshopFile
	WorkshopNew    = workshopNew
	Status         = status
)

// MaxJSON is the largest JSON body.
const MaxJSON = maxJSON

// PackRun is the binary form of a run.
var PackRun = packRun

// Operation is a route of the API as tests ask it.
type Operation struct {
	Name, Method, Path, Summary, InType string
	Right                               shop.Right
	In                                  any
}

// Operations is the API.
func Operations() []Operation {
	var all []Operation
	for _, rt := range routes() {
		method, path := rt.address()
		all = append(all, Operation{rt.name, method, path, rt.summary, rt.inType, rt.right, rt.in})
	}
	return all
}
