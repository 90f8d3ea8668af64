package sound

import (
	"math"
	"slices"
)

// laid is a passage laid on the recording stroke by stroke.
type laid struct {
	*passage
	want    []float64 // s, when each stroke is expected
	heard   []float64 // s, when it was
	gain    []float64 // what the sound says for it there, 1 a clear stroke
	placed  bool      // by what stands before and after it
	score   float64
	within  int     // by how many its strokes' numbers may be wrong
	drifted float64 // ms that it ran ahead or fell behind on the way, in all
	// By what it was laid as it lies, and the law's times then; nil: by nothing.
	lies   drifting
	liesAt []float64
}

// turnwise is what the dynamic programme looks at: how far a stroke may be from
// where it is expected and a turn from the law.
type turnwise struct {
	reach  float64 // s either side of what is expected
	loose  float64 // relative standard deviation of a turn's time
	ends   float64 // the same at a passage's ends, where a controller goes its own way
	jitter float64 // s, standard deviation of a stroke
	even   float64 // what half a squared standard deviation costs, in clear strokes
}

// atEnds is over how many strokes the ends' looseness fades.
const atEnds = 9

// near is 1 at a passage's ends, fading to 0.
func near(i, n int) float64 {
	k := min(i, n-1-i)
	return max(0, 1-float64(k)/atEnds)
}

// layStep is the grid, in s, on which lay looks for strokes: a pulse's own peak is sought
// near the place that was found.
const layStep = 2 * Step

// mostTurns bounds the durations that are tried for a turn.
const mostTurns = 240

// band is the places on lay's grid in which a stroke is looked for.
type band struct {
	from, width int
	most        int // longest turn before it that was tried
	came        []uint8
}

// What lay earns is kept in whole numbers of 1/layUnit; in the lowest bits of a sum
// stands which turn it came by, the longest being 0.
const (
	layUnit  = 250
	turnBits = 8
	turnMask = 1<<turnBits - 1
)

// laying is what a stroke earns at best at each place of lay's grid, in 1/layUnit.
func laying(worth []float32) []int16 {
	out := make([]int16, (len(worth)+1)/2)
	for t := range out {
		v := worth[2*t]
		if 2*t+1 < len(worth) {
			v = max(v, worth[2*t+1])
		}
		out[t] = int16(math.Round(float64(v) * layUnit))
	}
	return out
}

// lay finds the best times of a passage's strokes: they earn what the pulses
// are at them and pay for every turn that differs from the law's (dynamic
// programming over strokes and places).
func (l *laid) lay(worth []int16, o []float32, by turnwise) {
	n := len(l.at)
	bands := make([]band, n)
	most, sum := 0, 0
	for i := range bands {
		reach := int((by.reach + 0.3*near(i, n)*min(by.reach/0.2, 1)) / layStep)
		bands[i] = band{from: int(math.Round(l.want[i]/layStep)) - reach, width: 2*reach + 1}
		most = max(most, bands[i].width)
		sum += bands[i].width
	}
	store := make([]uint8, sum)
	v, w := make([]int32, most), make([]int32, most)
	total := int64(0)                   // that has been taken off all
	earn := func(i int, sums []int32) { // adds what stroke i earns
		b := &bands[i]
		top := int32(never)
		for x := range sums {
			if t := b.from + x; l.number[i] >= 0 && t >= 0 && t < len(worth) {
				sums[x] += int32(worth[t]) << turnBits
			}
			top = max(top, sums[x])
		}
		for x := range sums {
			sums[x] = max(sums[x]-top, never)
		}
		total += int64(top)
	}
	earn(0, v[:bands[0].width])
	var price [mostTurns + 1]int32
	for i := 1; i < n; i++ {
		b, last := &bands[i], &bands[i-1]
		b.came, store = store[:b.width], store[b.width:]
		d := l.at[i] - l.at[i-1]
		loose := by.loose + (by.ends-by.loose)*max(near(i, n), near(i-1, n))
		sd := math.Hypot(loose*d, by.jitter*math.Sqrt2)
		mid := d / layStep
		half := min(3.5*sd/layStep, mostTurns/2-1)
		from, to := max(int(math.Ceil(mid-half)), 1), int(math.Floor(mid+half))
		// To go on as expected is always possible, whatever it costs.
		if go_ := b.from + b.width/2 - last.from - last.width/2; go_ >= 1 && (go_ < from || go_ > to) {
			from, to = min(from, go_), max(to, go_)
			if to-from > mostTurns {
				from, to = max(1, go_-2), go_+2
			}
		}
		to = max(to, from)
		for q := from; q <= to; q++ { // the longest first, as the strokes before lie
			z := math.Abs(float64(q)-mid) * layStep / sd
			price[to-q] = int32(by.even*min(0.5*z*z, 1.5+z)*layUnit)<<turnBits - int32(to-q)
		}
		b.most = to
		shift := b.from - last.from // from x at this stroke, q places ago is x + shift − q at the last
		for x := range b.width {
			best := int32(never)
			lo, hi := max(from, x+shift-(last.width-1)), min(to, x+shift)
			if lo <= hi {
				earned := v[x+shift-hi : x+shift-lo+1]
				price := price[to-hi : to-lo+1]
				price = price[:len(earned)]
				for k, s := range earned {
					best = max(best, s-price[k])
				}
			}
			w[x] = best &^ turnMask
			b.came[x] = uint8(best & turnMask)
		}
		earn(i, w[:b.width])
		v, w = w, v
	}
	x := 0
	for k := range bands[n-1].width {
		if v[k] > v[x] {
			x = k
		}
	}
	l.score = float64(total) / (1 << turnBits) / layUnit
	l.heard, l.gain = grown(l.heard, n), grown(l.gain, n)
	for i := n - 1; i >= 0; i-- {
		l.heard[i], l.gain[i] = pick(o, int(float64(bands[i].from+x)*(layStep/Step)))
		if i > 0 {
			x += bands[i].from - bands[i-1].from - (bands[i].most - int(bands[i].came[x]))
		}
	}
}

// worth is what a stroke earns at each millisecond: about 1 where the pulse is
// clear, and less than nothing where it is no more than is usual anywhere.
func worth(o []float32) []float32 {
	usual := 0.03 + float64(quantile(o, 0.8))
	scale := 1 / math.Log1p(1/usual)
	out := make([]float32, len(o))
	for t := range out {
		out[t] = float32(math.Log1p(float64(o[t])/usual) * scale)
	}
	level(out)
	return out
}

// level takes away what chance would earn near each millisecond, and background:
// where it is still, noise stands out more than between strokes.
func level(worth []float32) {
	lessUsual(worth, 200, func(v float32, usual float64) float32 { return v - float32(usual) - background })
}

// lessUsual replaces each value by what less makes of it and of the mean of those
// up to so many places either side.
func lessUsual(x []float32, around int, less func(v float32, usual float64) float32) {
	was := make([]float32, 2*around+1) // by its place: what is replaced already
	sum, n := 0.0, 0
	for t := -around; t < len(x); t++ {
		if in := t + around; in < len(x) {
			sum, n = sum+float64(x[in]), n+1
			was[in%len(was)] = x[in]
		}
		if t < 0 {
			continue
		}
		x[t] = less(x[t], sum/float64(n))
		if out := t - around; out >= 0 {
			sum, n = sum-float64(was[out%len(was)]), n-1
		}
	}
}

// quantile is the q-quantile of every third value.
func quantile(x []float32, q float64) float32 {
	var some []float32
	for t := 0; t < len(x); t += 3 {
		some = append(some, x[t])
	}
	slices.Sort(some)
	return some[min(int(q*float64(len(some))), len(some)-1)]
}

// background is what a stroke costs where nothing is heard.
const background = 0.15

// peakAt is the place of a peak near a millisecond, by a parabola through its
// neighbours.
func peakAt(o []float32, t int) float64 {
	if t < 1 || t+1 >= len(o) {
		return float64(t)
	}
	a, b, c := float64(o[t-1]), float64(o[t]), float64(o[t+1])
	if den := a - 2*b + c; den < -1e-9 && b >= a && b >= c {
		return float64(t) + min(max(0.5*(a-c)/den, -0.5), 0.5)
	}
	return float64(t)
}

// expect says when a passage's strokes are to be looked for: the law's offsets
// with what the coarse path is off by around each, smoothed.
func (l *laid) expect(times, offsets []float64) {
	l.want = grown(l.want, len(l.at))
	const around = 7
	off := make([]float64, len(times))
	for i := range off {
		lo, hi := max(0, i-around), min(len(times), i+around+1)
		var d []float64
		for k := lo; k < hi; k++ {
			d = append(d, times[k]-offsets[k])
		}
		slices.Sort(d)
		off[i] = d[len(d)/2]
	}
	k := 0
	for i, at := range l.at {
		for k+1 < len(offsets) && offsets[k+1] <= at {
			k++
		}
		x := off[k]
		if k+1 < len(offsets) && offsets[k+1] > offsets[k] && at > offsets[k] {
			f := (at - offsets[k]) / (offsets[k+1] - offsets[k])
			x += f * (off[k+1] - off[k])
		}
		l.want[i] = at + x
	}
}

// expectByLaw says the same by the law alone between the passage's ends as they
// were heard.
func (l *laid) expectByLaw() {
	n := len(l.at)
	const few = 30
	end := func(from, to int) float64 {
		var d []float64
		for i := from; i < to; i++ {
			if l.gain[i] > 0.2 {
				d = append(d, l.heard[i]-l.at[i])
			}
		}
		if len(d) == 0 {
			return l.heard[from] - l.at[from]
		}
		slices.Sort(d)
		return d[len(d)/2]
	}
	a, z := end(0, min(few, n)), end(max(0, n-few), n)
	for i := range l.want {
		f := 0.5
		if n > few {
			f = (l.at[i] - l.at[min(few/2, n-1)]) / (l.at[max(n-few/2, 0)] - l.at[min(few/2, n-1)])
		}
		l.want[i] = l.at[i] + a + (z-a)*min(max(f, 0), 1)
	}
}
