package audit

import (
	"cmp"
	"math"
	"slices"

	"needlepace/words"
)

// Place is one of the places that a finding gathers: a finding of its own
// before it was put with others of its kind.
type Place struct {
	Block    int // colour block, from 0
	From, To int // stitches, as a finding has them
	X, Y     float64
	Radius   float64
	Count    int
	Peak     float64
	Seconds  float64 // its part of the finding's
	What     words.Message
}

// oneLook joins places of one kind that one look at the design takes in, mm.
// Engineering choice.
const oneLook = 5

// bundle makes one finding of those of one kind and one severity that lie in
// one object or near each other, and of all of them where there are more than
// LongList: nobody reads a list of two hundred lines about one rule, and what
// is to be done is the same at each. A graver one is never hidden among others.
// Costs must be solved before: they are summed.
func (v *survey) bundle(found []*Finding) []Finding {
	type rule struct {
		Kind
		Severity
	}
	var rules []rule
	of := map[rule][]*Finding{}
	for _, f := range found {
		r := rule{f.Kind, f.Severity}
		if of[r] == nil {
			rules = append(rules, r)
		}
		of[r] = append(of[r], f)
	}
	var out []Finding
	for _, r := range rules {
		all := of[r]
		sortWorst(all)
		sets, long := newSets(len(all)), len(all) > int(v.lim.LongList)
		for i := range all {
			for k := range i {
				if long {
					sets.join(i, 0)
					break
				}
				if v.besides(all[i], all[k]) {
					sets.join(i, k)
				}
			}
		}
		at, size := map[int]int{}, make([]int, len(all))
		for i := range all {
			size[sets.of(i)]++
		}
		for i, x := range all {
			root := sets.of(i)
			if k, ok := at[root]; ok {
				out[k].take(x)
				continue
			}
			at[root] = len(out)
			out = append(out, *x)
			if n := size[root]; n > 1 {
				f := &out[len(out)-1]
				places := f.Places
				if places == nil {
					places = []Place{f.asPlace()}
				}
				f.Places = append(make([]Place, 0, n-1+len(places)), places...)
			}
		}
	}
	for i := range out {
		v.sayPlaces(&out[i])
	}
	return out
}

// sortWorst orders findings of one kind and severity: what costs time only by its
// cost, others by how far they pass their limit. They are compared by copies of
// what counts, which lie together.
func sortWorst(all []*Finding) {
	type key struct {
		first, second         float64
		count, from, original int32
	}
	keys := make([]key, len(all))
	for i, f := range all {
		keys[i] = key{f.Over, f.Seconds, int32(f.Count), int32(f.From), int32(i)}
		if f.Severity == OnlyTime {
			keys[i].first, keys[i].second = f.Seconds, f.Over
		}
	}
	slices.SortFunc(keys, func(a, b key) int {
		switch {
		case a.first != b.first:
			return cmp.Compare(b.first, a.first)
		case a.second != b.second:
			return cmp.Compare(b.second, a.second)
		}
		return cmp.Or(cmp.Compare(b.count, a.count), cmp.Compare(a.from, b.from), cmp.Compare(a.original, b.original))
	})
	was := slices.Clone(all)
	for i, k := range keys {
		all[i] = was[k.original]
	}
}

// besides says whether two findings lie in one object or near each other.
func (v *survey) besides(a, b *Finding) bool {
	return v.objectOf(a.From) == v.objectOf(b.From) && !a.Spread && !b.Spread ||
		math.Hypot(a.X-b.X, a.Y-b.Y) <= oneLook
}

// take puts a finding with one that is worse and has its places.
func (f *Finding) take(o *Finding) {
	if o.Places == nil {
		f.Places = append(f.Places, o.asPlace())
	} else {
		f.Places = append(f.Places, o.Places...)
	}
	f.From, f.To, f.Spread = min(f.From, o.From), max(f.To, o.To), true
	f.Count, f.Peak, f.Over = f.Count+o.Count, max(f.Peak, o.Peak), max(f.Over, o.Over)
	f.Seconds, f.Alone, f.Split = f.Seconds+o.Seconds, f.Alone+o.Alone, f.Split+o.Split
}

func (f *Finding) asPlace() Place {
	return Place{Block: f.Block, From: f.From, To: f.To, X: f.X, Y: f.Y, Radius: f.Radius, Count: f.Count,
		Peak: f.Peak, Seconds: f.Seconds, What: f.What}
}

// sayPlaces says of a finding of several places what all of them are.
func (v *survey) sayPlaces(f *Finding) {
	switch f.What.Key {
	case "finding.no-locks", "finding.no-tie-ins", "finding.no-locks-nor-tie-ins":
		return // asOne has said it
	}
	if len(f.Places) < 2 {
		return
	}
	for _, r := range finders {
		if r.kind == f.Kind && r.say != nil { // it speaks of counts and peaks: of all of them, then
			r.say(v, f)
			f.What = words.Say("finding.in-places", words.Args{"what": f.What,
				"places": words.Count(len(f.Places), "place")})
			return
		}
	}
	f.What = words.Say("finding.and-like", words.Args{"what": f.What,
		"others": words.Count(len(f.Places)-1, "other-place")})
}
