package pages

import (
	"html/template"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/picture"
	"needlepace/web/serve"
)

// working is a plan's time with the nights taken out: strips of orders lie on
// it as the plan's rows do.
type working struct {
	spans []book.Span
	open  time.Duration
	serve.When
}

// longestAxis is how far behind the last piece a due day is still on the axis.
const longestAxis = 10 * 24 * time.Hour

func workingTime(p *book.Plan, d serve.When, shopHours *book.Workshop) *working {
	w := &working{When: d}
	if p == nil || len(p.Lots) == 0 {
		return w
	}
	until := p.Done
	for _, e := range p.Ends {
		if e.Due.After(until) && e.Due.Before(p.Done.Add(longestAxis)) {
			until = e.Due
		}
	}
	all := shopHours.OpenHours(p.From, until)
	for i := range p.Lots { // what is sewn beyond the hours entered
		if l := &p.Lots[i]; len(all) == 0 || l.To.After(all[len(all)-1].To) {
			all = append(all, book.Span{From: l.SetupFrom, To: l.To})
		}
	}
	slices.SortFunc(all, func(a, b book.Span) int { return a.From.Compare(b.From) })
	for _, s := range all {
		if n := len(w.spans); n > 0 && !s.From.After(w.spans[n-1].To.Add(30*time.Minute)) { // a pause is no night
			if s.To.After(w.spans[n-1].To) {
				w.spans[n-1].To = s.To
			}
			continue
		}
		w.spans = append(w.spans, s)
	}
	for _, s := range w.spans {
		w.open += s.To.Sub(s.From)
	}
	return w
}

// at is where a time stands, in percent of the width.
func (w *working) at(t time.Time) float64 {
	var sum time.Duration
	for _, s := range w.spans {
		if t.Before(s.From) {
			break
		}
		if t.Before(s.To) {
			sum += t.Sub(s.From)
			break
		}
		sum += s.To.Sub(s.From)
	}
	if w.open <= 0 {
		return 0
	}
	return 100 * float64(sum) / float64(w.open)
}

// end is when the axis ends.
func (w *working) end() time.Time {
	if len(w.spans) == 0 {
		return time.Time{}
	}
	return w.spans[len(w.spans)-1].To
}

// Axis names the days over the strips.
func (w *working) Axis() template.HTML {
	var b svg
	b.WriteString(`<svg class="axis days" aria-hidden="true">`)
	day, room, n, every := "", -1.0, 0, ""
	for _, s := range w.spans {
		d := w.Day(s.From)
		if d == day {
			continue
		}
		day = d
		x := w.at(s.From)
		b.add(`<line x1="%.2f%%" x2="%.2f%%" y1="13" y2="20"/>`, x, x)
		if x >= room && x < 92 {
			b.add(`<text class="%s" x="%.2f%%" y="11">%s</text>`, every, x, d)
			n++
			every = [2]string{"", "odd"}[n%2]
			room = x + 13
		}
	}
	return b.end()
}

// Strip draws lots on the axis: set-up, sewing, and where the pieces are due.
func (w *working) Strip(lots []book.PlanLot, due time.Time) template.HTML {
	if w.open <= 0 {
		return ""
	}
	var b svg
	b.WriteString(`<svg class="strip thin course" aria-hidden="true"><line class="rail" x1="0" x2="100%" y1="50%" y2="50%"/>`)
	for i := range lots {
		l := &lots[i]
		from, sew, to := w.at(l.SetupFrom), w.at(l.From), w.at(l.To)
		if ready := l.SetupFrom.Add(time.Duration(l.Setup * float64(time.Second))); ready.Before(l.From) {
			sew = max(w.at(ready), from)
			b.add(`<rect class="p-%s" x="%.2f%%" width="%.2f%%" height="100%%"/>`, picture.StartEnd, from,
				sew-from)
			sew = w.at(l.From)
		} else {
			b.add(`<rect class="p-%s" x="%.2f%%" width="%.2f%%" height="100%%"/>`, picture.StartEnd, from,
				sew-from)
		}
		class := "p-" + picture.AtSetSpeed.String()
		b.add(`<rect class="%s" x="%.2f%%" width="%.2f%%" height="100%%"/>`, class, sew, max(to-sew, .4))
		if l.Late && !due.IsZero() {
			from := max(w.at(due), from)
			b.add(`<rect class="f-warn" x="%.2f%%" width="%.2f%%" y="70%%" height="30%%"/>`, from,
				max(to-from, 0))
		}
	}
	if !due.IsZero() && due.After(w.spans[0].From) && due.Before(w.end().Add(12*time.Hour)) {
		b.add(`<rect class="duemark" x="%.2f%%" width="2.5" y="-4" height="20"/>`, max(w.at(due)-.6, 0))
	}
	return b.end()
}
