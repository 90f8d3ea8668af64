package pages

// What the tests ask with.
const HasHeader = hasHeader

var (
	OrderPath = orderPath
	LotValue  = lotValue
)
