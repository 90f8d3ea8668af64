package ask

import (
	"context"
	"math"

	"needlepace/floor"
	"needlepace/words"
)

// What a simulation is made with where the question leaves it open. The same
// seed and the same question give the same figures wherever it is asked.
const (
	DefaultSeed      = 1
	DefaultLevel     = 0.90   // of all intervals
	DefaultPrecision = 0.005  // of a shift's mean yield
	DefaultShifts    = 20_000 // simulated at the most, however wide the interval
	DefaultWeeks     = 300    // simulated on every machine of a comparison
)

// Simulation is how a simulation is made.
type Simulation struct {
	Seed  uint64  // 0: DefaultSeed
	Level float64 // chance that an interval holds, 0.5 to 0.999; 0: DefaultLevel
	// Progress, if not nil, is told the fraction done and what is being done.
	Progress func(fraction float64, doing words.Message)
}

// fill puts the defaults in and checks the rest.
func (s *Simulation) fill() error {
	if s.Seed == 0 {
		s.Seed = DefaultSeed
	}
	var err error
	s.Level, err = checkLevel(s.Level)
	return err
}

// checkLevel checks the chance that intervals are made to hold; 0 is DefaultLevel.
func checkLevel(v float64) (float64, error) {
	if v == 0 {
		return DefaultLevel, nil
	}
	if !(v >= 0.5 && v <= 0.999) { // a NaN fails too
		return v, Errorf("the chance that intervals hold is %s; give 50 %% to 99.9 %%", words.Level(v).Text(nil))
	}
	return v, nil
}

func (s *Simulation) step(fraction float64, doing words.Message) {
	if s.Progress != nil {
		s.Progress(min(max(fraction, 0), 1), doing)
	}
}

// Estimate is the mean with its own interval, and the range of single shifts
// (or weeks).
type Estimate struct {
	Mean       float64 `json:"mean"`
	MeanLow    float64 `json:"mean_low" doc:"interval of the mean"`
	MeanHigh   float64 `json:"mean_high"`
	SingleLow  float64 `json:"single_low" doc:"range of single shifts"`
	SingleHigh float64 `json:"single_high"`
}

// EstimateOf is an estimate of the floor as an answer has it.
func EstimateOf(e floor.Estimate) Estimate { return Estimate{e.Mean, e.Low, e.High, e.From, e.To} }

// OEE is availability, effectiveness and quality by their ISO 22400-2 definitions.
type OEE struct {
	Availability  float64 `json:"availability"`
	Effectiveness float64 `json:"effectiveness"`
	Quality       float64 `json:"quality_ratio"`
	OEE           float64 `json:"oee"`
	Technical     float64 `json:"technical_efficiency"`
	Setup         float64 `json:"setup_ratio"`
}

// OEEOf is OEE as an answer has it.
func OEEOf(o floor.OEE) OEE {
	return OEE{finite(o.Availability), finite(o.Effectiveness), finite(o.Quality), finite(o.OEE), finite(o.Technical),
		finite(o.Setup)}
}

// finite keeps a figure to what JSON can hold.
func finite(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

// simError is the error of a simulation: it was given up, or the question makes
// no sense.
func simError(ctx context.Context, err error) error {
	if err != nil && ctx.Err() != nil {
		return stopped(ctx)
	}
	return wrong(err)
}

// known is a figure, nil where there is none.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
