package ask

import (
	"math"
	"slices"

	"needlepace/audit"
	"needlepace/stitch"
	"needlepace/words"
)

// AuditSince is what became of an earlier version's findings.
type AuditSince struct {
	Design   string        `json:"design" doc:"the earlier version"`
	File     string        `json:"file"`
	Seconds  float64       `json:"seconds" doc:"run time of the earlier version"`
	Stitches int           `json:"stitches"`
	Won      float64       `json:"won_seconds" doc:"on each run; negative: the new version takes longer"`
	Same     float64       `json:"same" doc:"share of the earlier version's holes that the new one has too"`
	Met      int           `json:"met" doc:"points of the earlier version that are no longer there"`
	Partly   int           `json:"partly"`
	Open     int           `json:"open" doc:"still there"`
	Points   []SincePoint  `json:"points" doc:"one for each finding of the earlier version, in its order; none where it is another design"`
	New      []int         `json:"new" doc:"numbers of the findings that were not there before"`
	Verdict  words.Message `json:"verdict"`

	Before *AuditAnswer `json:"-"`
}

// SincePoint is what became of one finding of the earlier version.
type SincePoint struct {
	Number int         `json:"number" doc:"in the earlier version"`
	Kind   audit.Kind  `json:"kind"`
	What   words.Plain `json:"what"`
	State  PointState  `json:"state" doc:"met, partly or open"`
	Now    int         `json:"now" doc:"number of the finding that is left of it; 0: none"`
	Places int         `json:"places" doc:"places it had"`
	Left   int         `json:"places_left"`
	Won    float64     `json:"won_seconds" doc:"its own part on each run"`
}

// PointState is what became of a finding.
type PointState string

// The states of a finding since an earlier version.
const (
	PointMet    PointState = "met"
	PointPartly PointState = "partly"
	PointOpen   PointState = "open"
)

// Text is the state in words.
func (s PointState) Text(w *words.Writer) string {
	return words.Say("letter.state." + string(s)).Text(w)
}

// Raw is the state's stable name.
func (s PointState) Raw() string { return string(s) }

// samePlace is how far a place may move between two versions and still be the same, mm:
// a corrected object is seldom digitized on the old holes. Engineering choice.
const samePlace = 2

// ofWhole are the kinds that are about the whole design: they have no place to be
// found again by.
var ofWhole = map[audit.Kind]bool{audit.BeyondField: true, audit.TooLarge: true, audit.TooTight: true,
	audit.OffCentre: true, audit.TooManyColours: true, audit.Order: true, audit.BackAndForth: true}

// since says what became of the findings of an earlier version.
func (a *AuditAnswer) since(old *AuditAnswer) *AuditSince {
	dx, dy, same := laidOver(old.Of.Design, a.Of.Design)
	s := &AuditSince{Design: old.Design, File: old.File, Seconds: old.Seconds, Stitches: old.Stitches,
		Won: old.Seconds - a.Seconds, Same: same, Points: []SincePoint{}, New: []int{}, Before: old}
	if same < leastSame { // another design: none of its points can be met here
		s.say(a)
		return s
	}
	known := map[int]bool{}
	for i := range old.Findings {
		f := &old.Findings[i]
		p := SincePoint{Number: f.Number, Kind: f.Kind, What: f.What}
		left := 0.0
		for _, was := range spots(f) {
			p.Places++
			there := false
			was.X, was.Y = was.X+dx, was.Y+dy
			for k := range a.Findings {
				if g := &a.Findings[k]; g.Kind == f.Kind && meets(f.Kind, was, spots(g)) {
					there, known[g.Number] = true, true
					if p.Now == 0 {
						p.Now = g.Number
					}
				}
			}
			if there {
				p.Left++
			}
		}
		if p.Now > 0 {
			g := &a.Findings[p.Now-1]
			// What is left may gather others too: it counts for no more than its share.
			left = min(g.Seconds, f.Seconds*float64(p.Left)/float64(p.Places))
			p.State = PointOpen
			if p.Left < p.Places || left < 0.8*f.Seconds {
				p.State = PointPartly
			}
		} else {
			p.State = PointMet
		}
		p.Won = f.Seconds - left
		switch p.State {
		case PointMet:
			s.Met++
		case PointPartly:
			s.Partly++
		default:
			s.Open++
		}
		s.Points = append(s.Points, p)
	}
	for i := range a.Findings {
		if n := a.Findings[i].Number; !known[n] {
			s.New = append(s.New, n)
		}
	}
	s.say(a)
	return s
}

// spots are the places of a finding.
func spots(f *Finding) []Place {
	if len(f.Places) > 0 {
		return f.Places
	}
	return []Place{{X: f.X, Y: f.Y, RadiusMM: f.RadiusMM}}
}

// meets reports whether a place is one of those, as far as its kind has places.
func meets(k audit.Kind, was Place, these []Place) bool {
	return ofWhole[k] || slices.ContainsFunc(these, func(is Place) bool {
		const inexact = 1e-6 // of a sum of tenths
		return math.Hypot(was.X-is.X, was.Y-is.Y) <= max(samePlace, was.RadiusMM, is.RadiusMM)+inexact
	})
}

// leastSame is the least share of holes in common from which two files are taken
// for versions of one design: below it nobody can say that a point was met. Chance
// alone gives less where a design is sparse. Engineering choice.
const leastSame = 0.1

// laidOver is how far the old design must be moved, mm, to lie on the new one: not
// at all or middle on middle, whichever brings more holes together; and the share
// of the old one's holes that are then holes of the new one.
func laidOver(old, next *stitch.Design) (dx, dy, same float64) {
	was, is := holesOf(old), holesOf(next)
	if len(was) == 0 {
		return 0, 0, 0
	}
	a, b := old.Count().Bounds, next.Count().Bounds
	moved := stitch.Point{X: (b.MinX + b.MaxX - a.MinX - a.MaxX) / 2, Y: (b.MinY + b.MaxY - a.MinY - a.MaxY) / 2}
	for _, by := range []stitch.Point{{}, moved} {
		n := 0
		for h := range was {
			if is[stitch.Point{X: h.X + by.X, Y: h.Y + by.Y}] {
				n++
			}
		}
		if share := float64(n) / float64(len(was)); share > same {
			same = share
			dx, dy = by.MM()
		}
	}
	return dx, dy, same
}

func holesOf(d *stitch.Design) map[stitch.Point]bool {
	out := map[stitch.Point]bool{}
	p := stitch.Point{}
	for _, r := range d.Records {
		p.X, p.Y = p.X+int(r.DX), p.Y+int(r.DY)
		if r.Op.Penetrates() {
			out[p] = true
		}
	}
	return out
}

func (s *AuditSince) say(a *AuditAnswer) {
	met, points := words.Whole(s.Met), words.Count(len(s.Points), "point")
	before, now, won := words.Seconds(s.Seconds), words.Seconds(a.Seconds), words.Seconds(math.Abs(s.Won))
	switch {
	case s.Same < leastSame:
		s.Verdict = words.Say("letter.another-design", words.Args{"design": words.Name(s.Design), "share": words.Share(s.Same)})
	case len(s.Points) == 0:
		s.Verdict = words.Say("letter.no-points-before",
			words.Args{"design": words.Name(s.Design), "before": before, "now": now})
	case s.Won >= leastCost:
		s.Verdict = words.Say("letter.won",
			words.Args{"met": met, "points": points, "before": before, "now": now, "won": won})
	case s.Won <= -leastCost:
		s.Verdict = words.Say("letter.lost",
			words.Args{"met": met, "points": points, "before": before, "now": now, "won": won})
	default:
		s.Verdict = words.Say("letter.same-time", words.Args{"met": met, "points": points, "now": now})
	}
}

// SinceTable is a row for each finding of the earlier version.
func (s *AuditSince) SinceTable() *Table {
	t := table("since", words.Say("letter.since", words.Args{"design": words.Name(s.Design)}),
		number("number", "letter.point"),
		column("what", "clock.what"),
		column("state", "letter.now"),
		number("places", "letter.places"),
		number("places_left", "letter.places-left"),
		number("won_seconds", "letter.won-run"),
		number("now", "letter.number-now"),
	)
	for _, p := range s.Points {
		var now words.Value
		if p.Now > 0 {
			now = words.Whole(p.Now)
		}
		t.add(words.Whole(p.Number), p.What, p.State, words.Whole(p.Places), words.Whole(p.Left), cost(p.Won), now)
	}
	return t
}
