package floor

import (
	"errors"
	"fmt"
	"math"
)

// Interference is the steady state of n machines that stop at random and c
// operators who put them right, each stop needing one operator.
type Interference struct {
	Machines, Operators int

	P            []float64 // P[k]: fraction of time k machines stand (waiting or in service); nil where the model does not give it
	Down         float64   // L: mean machines standing
	Waiting      float64   // Lq: mean machines waiting for an operator
	Running      float64   // J: mean machines running
	InService    float64   // H: mean machines being served (= mean operators busy)
	Efficiency   float64   // F = (J+H)/n: 1 where nobody ever waits for an operator
	MeanWait     float64   // Wq: a stop's mean wait for an operator, in units of the mean run time
	MeanDown     float64   // W: a stop's mean wait and service, in units of the mean run time
	WaitOnStop   float64   // D: chance that a machine that stops must wait (Peck and Hazelwood 1958); NaN where not given
	BusyFraction float64   // Pw: fraction of time all operators are busy (n ≥ c machines standing); NaN where not given
}

var errInterference = errors.New("floor: interference needs at least one machine, at least one operator and a service ratio that is finite and not negative")

// finiteSource is the state distribution of M/M/c//n with r = service ÷ run.
func finiteSource(n, c int, r float64) []float64 {
	// Weights w(k) = w(k−1)·(n−k+1)·r / min(k,c), rescaled as they grow so
	// that large n cannot overflow.
	p := make([]float64, n+1)
	p[0] = 1
	sum := 1.0
	for k := 1; k <= n; k++ {
		p[k] = p[k-1] * float64(n-k+1) * r / float64(min(k, c))
		sum += p[k]
		if sum > 1e200 {
			for i := range p[:k+1] {
				p[i] /= sum
			}
			sum = 1
		}
	}
	for k := range p {
		p[k] /= sum
	}
	return p
}

func tail(p []float64, c int) float64 {
	s := 0.0
	for k := c; k < len(p); k++ {
		s += p[k]
	}
	return s
}

// Exponential is the finite-source queue M/M/c//n: run times and services are
// exponential, r is mean service ÷ mean run time (the "service factor" of the
// printed tables is X = r/(1+r)). Balance equations as in any queueing text,
// e.g. Gross and Harris, Fundamentals of Queueing Theory.
//
// Two quantities in print are both called the probability of waiting:
// WaitOnStop counts stops, so a machine that stops finds the other n−1 as
// n−1 machines alone would stand; BusyFraction counts time.
func Exponential(n, c int, r float64) (Interference, error) {
	if n < 1 || c < 1 || r < 0 || math.IsNaN(r) || math.IsInf(r, 0) {
		return Interference{}, errInterference
	}
	q := Interference{Machines: n, Operators: c, P: finiteSource(n, c, r)}
	for k, p := range q.P {
		q.Down += float64(k) * p
		q.Waiting += float64(max(k-c, 0)) * p
	}
	q.finish(r)
	q.BusyFraction = tail(q.P, c)
	q.WaitOnStop = 0
	if n > 1 {
		q.WaitOnStop = tail(finiteSource(n-1, c, r), c)
	}
	return q, nil
}

// finish derives the rest from Down and Waiting.
func (q *Interference) finish(r float64) {
	n := float64(q.Machines)
	q.Running = n - q.Down
	q.InService = q.Down - q.Waiting
	q.Efficiency = 1 - q.Waiting/n
	if q.Running > 0 {
		q.MeanWait = q.Waiting / q.Running
		q.MeanDown = q.Down / q.Running
	}
}

// Service is the law of the service time of OneOperator: the Laplace
// transform f(s) of a service of mean 1, E[exp(−s·S)].
type Service func(s float64) float64

// The service laws that printed results exist for.
var (
	ConstantService    Service = func(s float64) float64 { return math.Exp(-s) }
	ExponentialService Service = func(s float64) float64 { return 1 / (1 + s) }
)

// ErlangService is a service of k exponential phases; k ≥ 1.
func ErlangService(k int) Service {
	return func(s float64) float64 { return math.Pow(1+s/float64(k), -float64(k)) }
}

// OneOperator is the finite-source queue with one operator, exponential run
// times and any service law (Takács, Introduction to the Theory of Queues,
// 1962, ch. 5; constant service is Ashcroft 1950). r is mean service ÷ mean
// run time. The state distribution is not given by this formula, so P is nil
// and WaitOnStop and BusyFraction (but for one machine) follow from what is.
func OneOperator(n int, r float64, f Service) (Interference, error) {
	if n < 1 || r < 0 || math.IsNaN(r) || math.IsInf(r, 0) {
		return Interference{}, errInterference
	}
	// P0 = 1 / (1 + n·r·Σ_{k<n} C(n−1,k)·Π_{i≤k} (1−f(i·r))/f(i·r)); the
	// terms are summed as logarithms, since for large n they pass 1e308.
	logSum := 0.0 // log of the sum so far, the k = 0 term being 1
	term := 0.0
	for k := 1; k < n; k++ {
		fk := f(float64(k) * r)
		term += math.Log(float64(n-k)/float64(k)) + math.Log((1-fk)/fk)
		if math.IsInf(term, -1) { // r = 0: no service ever
			break
		}
		if math.IsInf(term, 1) {
			return Interference{}, fmt.Errorf("floor: %d machines at service ÷ run = %g: the operator is never free", n, r)
		}
		if term > logSum {
			logSum = term + math.Log1p(math.Exp(logSum-term))
		} else {
			logSum += math.Log1p(math.Exp(term - logSum))
		}
	}
	busy := 0.0 // 1 − P0
	if r > 0 {
		busy = 1 / (1 + math.Exp(-logSum)/(float64(n)*r))
	}
	q := Interference{Machines: n, Operators: 1, WaitOnStop: math.NaN(), BusyFraction: busy}
	running := float64(n)
	if r > 0 {
		running = busy / r
	}
	q.Down = float64(n) - running
	q.Waiting = q.Down - busy
	q.finish(r)
	return q, nil
}

// Wright is Wright's empirical interference for one operator and n ≥ 6
// machines, in per cent of the mean service time; run is mean run ÷ mean
// service (quoted in Niebel, Motion and Time Study). It is a rule of thumb:
// for 60 spindles it lies 12 to 24 % above the exact results.
func Wright(n int, run float64) float64 {
	a := 1 + run - float64(n)
	return 50 * (math.Sqrt(a*a+2*float64(n)) - a)
}

// SeriesAvailability is the long-run fraction of time that a machine of
// parts in series runs: any stop stops all, and what stands cannot fail
// (Barlow, Engineering Reliability, 1998, eq. 8.4.2). Each ratio is a part's
// mean repair ÷ mean time between its stops. n equal heads: n equal ratios.
func SeriesAvailability(ratios ...float64) float64 {
	s := 1.0
	for _, r := range ratios {
		s += r
	}
	return 1 / s
}

// OperatorsFor costs c = 1…most operators on n machines (M/M/c//n with ratio
// r) and returns the costs per hour and the cheapest c: waiting and inService
// are the costs per hour of a machine in that state, operator that of an operator.
func OperatorsFor(n, most int, r, waiting, inService, operator float64) (perHour []float64, best int, err error) {
	for c := 1; c <= most; c++ {
		q, err := Exponential(n, c, r)
		if err != nil {
			return nil, 0, err
		}
		perHour = append(perHour, q.Waiting*waiting+q.InService*inService+float64(c)*operator)
		if best == 0 || perHour[c-1] < perHour[best-1] {
			best = c
		}
	}
	return perHour, best, nil
}
