package plan

// level shifts pieces between the lots of jobs that several machines share, from
// the lot that ends last to the one that ends first, as long as the plan gets
// better. Jobs are left as they are where keep says so.
func (s *state) level(keep func(job int32) bool) {
	md := s.md
	for _, lots := range md.orders {
		if keep(md.job[lots[0]]) {
			continue
		}
		step := 0
		for tries := 0; tries < levelTries; tries++ {
			last, first := lots[0], lots[0]
			for _, t := range lots {
				if s.done[t] > s.done[last] {
					last = t
				}
				if s.done[t] < s.done[first] {
					first = t
				}
			}
			if s.mach[last] == s.mach[first] {
				break
			}
			j := &md.p.Jobs[md.job[last]]
			// Whole runs of both machines, as far as that goes.
			run := max(j.fit(int(s.mach[last])).Pieces, j.fit(int(s.mach[first])).Pieces)
			if step == 0 {
				step = md.quantity[last] / 2
			}
			step -= step % run
			if step == 0 || step >= md.quantity[last] {
				break
			}
			if !s.shift(last, first, step) {
				step /= 2
				if step < run {
					break
				}
			}
		}
	}
}

// levelTries bounds the shifts tried for a job.
const levelTries = 24

// shift gives so many pieces of one lot to another of the same job, if the plan
// gets better by it; else nothing changes.
func (s *state) shift(from, to int32, pieces int) bool {
	before := s.value()
	s.resize(from, to, pieces)
	if s.value() < before-1e-9*max(1, before) {
		return true
	}
	s.resize(to, from, pieces)
	return false
}

func (s *state) resize(from, to int32, pieces int) {
	s.md.size(from, s.md.quantity[from]-pieces)
	s.md.size(to, s.md.quantity[to]+pieces)
	s.refresh(int(s.mach[from]), int(s.pos[from]))
	s.refresh(int(s.mach[to]), int(s.pos[to]))
	s.total()
}

// join makes lots of one job that follow each other on a machine one: a last run of
// each with empty heads becomes one. What is left of the others is nothing.
func (s *state) join() {
	md := s.md
	for m := range s.rows {
		q := s.rows[m].seq
		for i := 1; i < len(q); i++ {
			first := i
			for first > 0 && md.job[q[first-1]] == md.job[q[i]] {
				first--
			}
			if first < i && md.quantity[q[i]] > 0 {
				s.resize(q[i], q[first], md.quantity[q[i]])
			}
		}
	}
}
