package paper

// column is one column of a table on paper.
type column struct {
	head  string
	width float64 // share of the page's width
	left  float64 // pt kept free at its left
	right bool
	bold  bool
}

// table sets rows under a head that is repeated on a new page. Cells of one
// column are wrapped, those of the others shortened.
type table struct {
	cols []column
	wrap int // index of the column that wraps, −1: none
	// mark, if it is not nil, draws in a row at its base line.
	mark func(row int, x []float64, y float64)
}

func (p *page) table(t table, rows [][]string) {
	x := make([]float64, len(t.cols)+1)
	x[0] = margin
	for i, c := range t.cols {
		x[i+1] = x[i] + c.width*p.width()
	}
	header := func() {
		for i, c := range t.cols {
			if c.right {
				p.right(x[i+1], p.y+small, c.head, small, false, quiet)
			} else {
				p.text(x[i]+c.left, p.y+small, c.head, small, false, quiet)
			}
		}
		p.y += small + 4
		p.line(p.y, x[len(x)-1], black)
		p.y += 3
	}
	rowGap, spacing := 3.5, 1.3
	switch {
	case p.dense:
		rowGap, spacing = .8, 1.1
	case p.tight:
		rowGap = 1.5
	}
	p.need(40)
	header()
	for r, row := range rows {
		lines := []string{""}
		if t.wrap >= 0 {
			lines = p.wrap(row[t.wrap], t.cols[t.wrap].width*p.width()-6-t.cols[t.wrap].left, normal, t.cols[t.wrap].bold)
		}
		h := float64(len(lines))*normal*spacing + rowGap
		if p.need(h) {
			header()
		}
		base := p.y + normal
		for i, c := range t.cols {
			w := c.width*p.width() - 6
			switch {
			case i == t.wrap:
				for k, l := range lines {
					p.text(x[i]+c.left, base+float64(k)*normal*spacing, l, normal, c.bold && k == 0, black)
				}
			case c.right:
				p.right(x[i+1], base, p.fit(row[i], w+3, normal, c.bold), normal, c.bold, black)
			default:
				p.text(x[i]+c.left, base, p.fit(row[i], w-c.left, normal, c.bold), normal, c.bold, black)
			}
		}
		if t.mark != nil {
			t.mark(r, x, base)
		}
		p.y += h
		if r < len(rows)-1 {
			p.line(p.y-rowGap/2, x[len(x)-1], 215)
		}
	}
	p.line(p.y, x[len(x)-1], hair)
	p.y += 6
}

// facts sets pairs of a word and what it is, one a line, at x within w.
func (p *page) facts(x, y, w float64, pairs [][2]string) float64 {
	left := 0.0
	for _, f := range pairs {
		if f[1] != "" {
			left = max(left, p.wide(f[0], small, false))
		}
	}
	left += 10
	for _, f := range pairs {
		if f[1] == "" {
			continue
		}
		p.text(x, y+normal, f[0], small, false, quiet)
		for _, l := range p.wrap(f[1], w-left, normal, false) {
			p.text(x+left, y+normal, l, normal, false, black)
			y += normal * 1.45
		}
	}
	return y
}
