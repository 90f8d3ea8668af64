package audit

import "needlepace/words"

// ForeignHoles is a row of stitches into the holes of another colour.
const ForeignHoles Kind = "foreign-holes"

// foreignGap is how many other stitches may lie between two such stitches of a
// row; so at least a third of it are such. Chance alone makes one in some sixty
// at the density of a fill. Engineering choice.
const foreignGap = 2

// findForeign looks for rows of stitches that go into holes another thread has
// made: the needle pierces that thread, pulls it up or cuts it.
func findForeign(v *survey) []Finding {
	if v.l.blocks < 2 {
		return nil
	}
	hit := make([]bool, len(v.l.holes))
	any := false
	b := v.places()
	for _, p := range b.at {
		holes := b.strikes(p)
		for _, k := range holes[1:] {
			if v.threadOf(int(k)) != v.threadOf(int(holes[0])) {
				hit[k], any = true, true
			}
		}
	}
	if !any {
		return nil
	}
	var found []Finding
	for _, c := range v.rows(foreignGap, func(k int) bool { return hit[k] }) {
		if c.count < int(v.lim.ForeignHoles) {
			continue
		}
		f := Finding{From: c.from, To: c.to, Count: c.count, Risk: RiskBreak, Over: float64(c.count) / v.lim.ForeignHoles}
		v.cover(&f, c.from, c.to)
		f = v.place(f, c.object)
		v.around(&f, c.from, c.to)
		found = append(found, f)
	}
	return found
}

func sayForeign(_ *survey, f *Finding) {
	f.What = words.Say("finding.foreign", words.Args{"stitches": words.Count(f.Count, "stitch")})
	f.Ask = words.Say("finding.foreign-ask")
}

// threadOf is the thread of a hole.
func (v *survey) threadOf(k int) int { return v.threads[v.l.objects[v.objectOf(k)].Block] }

// rows gathers the holes for which is says yes; up to gap others of the object
// may lie between two of one row.
func (v *survey) rows(gap int, is func(k int) bool) []cluster {
	var out []cluster
	for i := range v.l.objects {
		last := -1
		for k := v.l.objects[i].First; k < v.l.objects[i].Last; k++ {
			if !is(k) {
				continue
			}
			if last < 0 || k-last > gap+1 {
				out = append(out, cluster{object: i, from: k})
			}
			c := &out[len(out)-1]
			c.to, c.count = k+1, c.count+1
			last = k
		}
	}
	return out
}
