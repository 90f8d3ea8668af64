package learn

import "math"

// noise is what can come between the machine's time and the time written
// down. Three things happen: the reading is a little off (normal, sd), or
// something unnoticed added time (the same plus an exponential delay: a
// thread break, a bobbin, a pause), or the number has nothing to do with the
// run (a slip: spread evenly over a wide range).
type noise struct {
	sd    float64 // of the reading
	delay float64 // mean of an interruption, same unit
	pause float64 // chance of an interruption
	slip  float64 // chance of a slip
	wide  float64 // range over which a slip may fall
}

// parts gives the three densities at residual r = measured − predicted,
// weighted, each over a common factor exp(shift).
func (n *noise) parts(r float64) (normal, paused, slipped, shift float64) {
	u := r / n.sd
	if a := n.sd / n.delay; math.Abs(u) < 30 && (n.pause <= 0 || a < 10) { // nothing underflows: no logarithms
		bell := math.Exp(-0.5 * u * u)
		if n.pause > 0 {
			if x := (a - u) / math.Sqrt2; x < 5 {
				paused = math.Exp(a*(0.5*a-u)) * math.Erfc(x)
			} else {
				paused = bell * erfcx(x)
			}
			paused *= n.pause / (2 * n.delay)
		}
		if n.slip > 0 {
			slipped = n.slip / n.wide
		}
		return (1 - n.pause - n.slip) / (n.sd * math.Sqrt(2*math.Pi)) * bell, paused, slipped, 0
	}
	shift = -0.5 * u * u
	lp := n.logPaused(r)
	ls := math.Inf(-1)
	if n.slip > 0 {
		ls = math.Log(n.slip / n.wide)
	}
	ln := math.Log((1-n.pause-n.slip)/(n.sd*math.Sqrt(2*math.Pi))) + shift
	shift = max(ln, lp, ls)
	return math.Exp(ln - shift), math.Exp(lp - shift), math.Exp(ls - shift), shift
}

// logPaused is the log density of normal + exponential (the exponentially
// modified Gaussian), weighted with the chance of a pause.
func (n *noise) logPaused(r float64) float64 {
	if n.pause <= 0 {
		return math.Inf(-1)
	}
	a := n.sd / n.delay
	x := (a - r/n.sd) / math.Sqrt2
	lead := math.Log(n.pause / (2 * n.delay))
	if x < 5 {
		return lead + 0.5*a*a - r/n.delay + math.Log(math.Erfc(x))
	}
	// erfc(x) = exp(−x²)·erfcx(x), and the squares cancel: 0.5a² − r/delay − x² = −r²/2sd².
	u := r / n.sd
	return lead - 0.5*u*u + math.Log(erfcx(x))
}

// erfcx is exp(x²)·erfc(x) for x ≥ 5 by its continued fraction (Abramowitz
// and Stegun 7.1.14), good to rounding there.
func erfcx(x float64) float64 {
	f := 0.0
	for k := 40; k >= 1; k-- {
		f = float64(k) / 2 / (x + f)
	}
	return 1 / (math.Sqrt(math.Pi) * (x + f))
}

// loss is −ln density at r, with its first and second derivative.
func (n *noise) loss(r float64) (rho, d1, d2 float64) {
	a, b, c, shift := n.parts(r)
	p := a + b + c
	// normal' = −r/sd²·normal; paused' = (pause·N − paused)/delay with N the
	// unweighted normal density; slipped' = 0.
	v := 1 / (n.sd * n.sd)
	na := -r * v * a
	naa := (r*r*v - 1) * v * a
	var nb, nbb float64
	if b > 0 {
		w := n.pause / (1 - n.pause - n.slip)
		nb = (w*a - b) / n.delay
		nbb = (w*na - nb) / n.delay
	}
	d1 = -(na + nb) / p
	d2 = d1*d1 - (naa+nbb)/p
	return -shift - math.Log(p), d1, d2
}

// guilt is how sure we can be that the residual is an interruption, or a slip.
func (n *noise) guilt(r float64) (paused, slipped float64) {
	a, b, c, _ := n.parts(r)
	return b / (a + b + c), c / (a + b + c)
}

// centre is the residual at which the loss is least (a little above 0: some
// of what looks like noise is short pauses), and the loss there.
func (n *noise) centre() (r, rho float64) {
	for range 50 {
		_, d1, d2 := n.loss(r)
		if d2 < 0.1/(n.sd*n.sd) {
			d2 = 0.1 / (n.sd * n.sd)
		}
		step := d1 / d2
		r -= max(-n.sd, min(n.sd, step))
		if math.Abs(step) < 1e-12*n.sd {
			break
		}
	}
	rho, _, _ = n.loss(r)
	return r, rho
}

// root is the loss as half a square: ½·root² = loss − least loss, rising
// through 0 at the centre, with its derivative. It makes any of these losses
// a least-squares residual.
func (n *noise) root(r, centre, least float64) (value, slope float64) {
	rho, d1, d2 := n.loss(r)
	h := 2 * (rho - least)
	if h < 1e-8 {
		s := math.Sqrt(max(d2, 0))
		return s * (r - centre), s
	}
	value = math.Sqrt(h)
	if r < centre {
		value = -value
	}
	return value, d1 / value
}
