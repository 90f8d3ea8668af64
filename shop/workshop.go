package shop

// PlanSetup is the kind of the setup that says when and how the shop works:
// a Workshop. There is one, WorkshopID.
const (
	PlanSetup  SetupKind = "plan"
	WorkshopID string    = "workshop"
)
