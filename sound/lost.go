package sound

import "math"

// The coarse path may go into a run while the machine still rests, or out of it too early, and a passage
// is laid some seconds off, where nothing of it is heard; those beside it lie where they were sewn. It is sought
// anew between them, wherever it can be.

const (
	lostEarns = 0.6  // of what strokes earn in the mean: a passage that earns less may be elsewhere
	lostSeek  = 200  // strokes of it that are sought, at the most
	lostEvery = 4    // ms
	lostMost  = 60.0 // s that a passage is sought over, at the most
	lostGains = 1    // what it must earn more there
)

// found lays passages that earn little where more of them is heard.
func (h *hearing) found(by drifting) *hearing {
	best := h
	for k := range h.laid {
		from, to, lost := best.lost(k)
		if !lost {
			continue
		}
		l := best.laid[k]
		at, ok := h.seek(l.passage, from, to-l.total)
		if !ok || math.Abs(at-(l.heard[0]-l.at[0])) < by.reach/2 {
			continue
		}
		try := best.again()
		try.laid[k].liesFrom(at)
		if now := try.lay(by); now.earned > best.earned+lostGains && now.inOrder() {
			best = now
		}
	}
	return best
}

// liesFrom puts a passage's strokes where the law has them if it begins at a time in s.
func (l *laid) liesFrom(at float64) {
	for i := range l.at {
		l.heard[i], l.gain[i] = at+l.at[i], 1
	}
	l.liesAt = nil
}

// earnsLittle reports whether so little of a passage is heard that it may lie elsewhere.
func (h *hearing) earnsLittle(l *laid, usual float64) bool {
	return !l.placed && len(l.at) >= shortPassage && l.score < lostEarns*usual*float64(len(l.at))
}

// lost reports whether so little of passage k is heard that it may lie elsewhere, and between which times, in
// s: after the nearest passage before it that is not lost itself and before the nearest after it, with room
// for what is sewn between.
func (h *hearing) lost(k int) (from, to float64, lost bool) {
	usual := h.perStroke()
	if !h.earnsLittle(h.laid[k], usual) {
		return 0, 0, false
	}
	to = h.curve.Seconds()
	sewn := 0.0
	for q := k - 1; q >= 0; q-- {
		if l := h.laid[q]; !h.earnsLittle(l, usual) {
			last := len(l.at) - 1
			from = l.heard[last] + l.total - l.at[last]
			break
		}
		sewn += h.laid[q].total
	}
	from, sewn = from+sewn, 0
	for q := k + 1; q < len(h.laid); q++ {
		if l := h.laid[q]; !h.earnsLittle(l, usual) {
			to = l.heard[0] - l.at[0]
			break
		}
		sewn += h.laid[q].total
	}
	to -= sewn
	if l := h.laid[k]; to-from-l.total > lostMost {
		mid := l.heard[0] - l.at[0]
		from, to = max(from, mid-lostMost/2), min(to, mid+l.total+lostMost/2)
	}
	return from, to, true
}

// perStroke is what a stroke earns in the mean.
func (h *hearing) perStroke() float64 {
	sum, n := 0.0, 0
	for _, l := range h.laid {
		sum, n = sum+l.score, n+len(l.at)
	}
	return sum / float64(max(n, 1))
}

// seek is when a passage begins, between two times in s, where most of its strokes are heard.
func (h *hearing) seek(l *passage, from, to float64) (at float64, ok bool) {
	wide := h.blurs().wide[1]
	var strokes []int // ms from the passage's start
	for i := range min(len(l.at), lostSeek) {
		if l.number[i] >= 0 {
			strokes = append(strokes, int(l.at[i]/Step))
		}
	}
	best := math.MinInt
	for t := int(max(from, 0) / Step); t <= int(to/Step); t += lostEvery {
		sum := 0
		for _, s := range strokes {
			if t+s >= len(wide) {
				break
			}
			sum += int(wide[t+s])
		}
		if sum > best {
			best, at, ok = sum, float64(t)*Step, true
		}
	}
	return at, ok
}
