package learn

// Suggestion is an observation worth making next.
type Suggestion struct {
	What     string  // what to time, for people
	Gain     float64 // information, nats: ½·ln(1 + signal/noise)
	Sharpens string  // the constant it tells most about
	Before   float64 // that constant's relative spread now
	After    float64 // and after
}
