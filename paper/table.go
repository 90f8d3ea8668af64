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
// have room give it some, then the type becomes smaller, and where nothing of that helps all
// columns of texts are wrapped. Only figures are cut.
type table struct {
	cols []column
	wrap int // index of the column that wraps, −1: none
	// mark, if it is not nil, draws in a row at its base line.
	mark func(row int, x []float64, y float64)
}

func (p *page) table(t table, rows [][]string) {
	normal, wide, all := p.fitted(t, rows)
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
	wraps := func(i int) bool { return i == t.wrap || all && !t.cols[i].right }
	linesOf := func(row []string) (cells [][]string, most float64) {
		cells, most = make([][]string, len(row)), 1
		for i, c := range t.cols {
			if wraps(i) {
				cells[i] = p.wrap(row[i], wide[i]-6-c.left, normal, c.bold)
				most = max(most, float64(len(cells[i])))
			}
		}
		return cells, most
	}
	first := 1.0
	if len(rows) > 0 {
		_, first = linesOf(rows[0])
	}
	p.need(max(40, small+7+first*normal*spacing+rowGap)) // a head never stands alone
	header()
	for r, row := range rows {
		lines, most := linesOf(row)
		h := most*normal*spacing + rowGap
		if p.need(h) {
			header()
		}
		base := p.y + normal
		for i, c := range t.cols {
			w := wide[i] - 6
			switch {
			case wraps(i):
				for k, l := range lines[i] {
					p.text(x[i]+c.left, base+float64(k)*normal*spacing, l, normal, c.bold && (k == 0 || i != t.wrap), black)
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
// for where everything fits. all is whether texts must be wrapped to fit.
func (p *page) fitted(t table, rows [][]string) (size float64, wide []float64, all bool) {
	const smallest, wrapped = 6.5, 8.0
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
		case fits:
			return size, asked, false
		case size <= smallest && sum > total:
			return min(wrapped, normal), asked, true
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
			return size, need, false
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
