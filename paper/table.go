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
// column are wrapped, those of the others fitted: where one is too narrow, columns that
// have room give it some, then the type becomes smaller, and only then is a text cut.
type table struct {
	cols []column
	wrap int // index of the column that wraps, −1: none
	// mark, if it is not nil, draws in a row at its base line.
	mark func(row int, x []float64, y float64)
}

func (p *page) table(t table, rows [][]string) {
	normal, wide := p.fitted(t, rows)
	x := make([]float64, len(t.cols)+1)
	x[0] = margin
	for i := range t.cols {
		x[i+1] = x[i] + wide[i]
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
	linesOf := func(row []string) []string {
		if t.wrap < 0 {
			return []string{""}
		}
		return p.wrap(row[t.wrap], wide[t.wrap]-6-t.cols[t.wrap].left, normal, t.cols[t.wrap].bold)
	}
	first := 1.0
	if len(rows) > 0 {
		first = float64(len(linesOf(rows[0])))
	}
	p.need(max(40, small+7+first*normal*spacing+rowGap)) // a head never stands alone
	header()
	for r, row := range rows {
		lines := linesOf(row)
		h := float64(len(lines))*normal*spacing + rowGap
		if p.need(h) {
			header()
		}
		base := p.y + normal
		for i, c := range t.cols {
			w := wide[i] - 6
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

// fitted is the size of a table's type and the widths of its columns: as they are asked
// for where everything fits.
func (p *page) fitted(t table, rows [][]string) (size float64, wide []float64) {
	const smallest = 6.5
	total, asked := 0.0, make([]float64, len(t.cols))
	for i, c := range t.cols {
		asked[i] = c.width * p.width()
		total += asked[i]
	}
	for size = normal; ; size -= 0.5 {
		need, fits, sum := make([]float64, len(t.cols)), true, 0.0
		for i, c := range t.cols {
			if i == t.wrap { // may become narrower by a third
				need[i] = asked[i] * 2 / 3
			} else {
				text := p.wide(c.head, small, false)
				for _, row := range rows {
					text = max(text, p.wide(row[i], size, c.bold))
				}
				need[i] = text + 6.5 + c.left
				fits = fits && need[i] <= asked[i]+3.5 // right-hand cells may reach 3 into their gap
			}
			sum += need[i]
		}
		switch {
		case fits || size <= smallest && sum > total:
			return size, asked
		case sum <= total:
			spare := 0.0
			for i := range need {
				spare += max(0, asked[i]-need[i])
			}
			for i := range need { // who had room keeps of it in proportion
				if spare > 0 {
					need[i] += (total - sum) * max(0, asked[i]-need[i]) / spare
				}
			}
			return size, need
		}
	}
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
