package book

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"needlepace/internal/cells"
	"needlepace/words"
)

// TableField is something of an order that a column of a table may hold.
type TableField struct {
	Key    string // as a mapping has it
	Needed bool
	names  []string // headings that mean it, folded
}

// TableFields are all of them, in the order in which they are shown.
var TableFields = []TableField{
	{"customer", true, []string{"customer", "customer name", "client", "client name", "name", "buyer", "account", "company"}},
	{"design", true, []string{"design", "design name", "design file", "file", "logo", "artwork", "motif", "stitch file"}},
	{"quantity", true, []string{"quantity", "qty", "pieces", "pcs", "number", "count", "number of pieces", "total"}},
	{"reference", false, []string{"reference", "ref", "order", "order no", "order number", "po", "po number",
		"purchase order", "purchase order number", "their reference", "job"}},
	{"due", false, []string{"due", "due date", "due day", "wanted", "wanted by", "needed by", "delivery date", "ship date",
		"deadline"}},
	{"latest", false, []string{"latest", "latest day", "not after", "cancel date"}},
	{"goods", false, []string{"goods", "goods come", "garments come", "garments in", "goods in"}},
	{"priority", false, []string{"priority", "weight"}},
	{"customer_address", false, []string{"customer address", "address", "bill to"}},
	{"garment", false, []string{"garment", "goods sewn on", "item", "article", "product", "style"}},
	{sizeField, false, []string{"size", "garment size", "sizes"}},
	{"garment_colour", false, []string{"garment color", "goods colour", "goods color", "colour", "color", "shade"}},
	{"placement", false, []string{"placement", "position", "place", "location"}},
	{"threads", false, []string{"threads", "thread colours", "thread colors", "thread colour", "thread color", "colours", "colors"}},
	{"speed", false, []string{"speed", "stitches/min", "set speed"}},
	{"cap_frame", false, []string{"cap frame", "cap", "caps"}},
	{"digitize", false, []string{"digitize", "digitizing", "to digitize"}},
	{"agreed", false, []string{"agreed", "confirmed"}},
	{"note", false, []string{"note", "notes", "comment", "comments", "remark", "remarks"}},
}

// otherNames are headings in the other languages of the page. Common words of offices, from memory: no published source.
var otherNames = map[string][]string{
	"customer":         {"cliente", "nombre del cliente", "nombre", "comprador", "empresa", "nome do cliente", "nome", "müşteri", "müşteri adı", "firma", "khách hàng", "tên khách hàng", "khách", "công ty"},
	"design":           {"diseño", "nombre del diseño", "archivo", "bordado", "logotipo", "motivo", "desenho", "matriz", "arquivo", "ficheiro", "logomarca", "desen", "desen adı", "dosya", "nakış", "mẫu", "mẫu thêu", "tên mẫu", "tệp"},
	"quantity":         {"cantidad", "cant", "piezas", "unidades", "uds", "número de piezas", "quantidade", "qtd", "qtde", "peças", "adet", "miktar", "số lượng", "sl"},
	"reference":        {"referencia", "pedido", "nº de pedido", "número de pedido", "orden de compra", "oc", "referência", "número do pedido", "nº do pedido", "encomenda", "ordem de compra", "sipariş", "sipariş no", "referans", "mã đơn", "mã đơn hàng", "số đơn hàng", "đơn hàng"},
	"due":              {"fecha de entrega", "entrega", "plazo", "data de entrega", "prazo", "teslim tarihi", "teslim", "termin", "ngày giao", "ngày giao hàng", "hạn giao"},
	"latest":           {"último día", "fecha límite", "último dia", "data limite", "en geç", "son gün", "chậm nhất", "ngày chậm nhất"},
	"goods":            {"llegada de las prendas", "llegada de prendas", "chegada das peças", "ürün gelişi", "hàng về", "ngày hàng về"},
	"priority":         {"prioridad", "prioridade", "öncelik", "ưu tiên", "độ ưu tiên"},
	"customer_address": {"dirección", "dirección del cliente", "endereço", "morada", "adres", "địa chỉ"},
	"garment":          {"prenda", "artículo", "producto", "peça", "artigo", "produto", "ürün", "giysi", "sản phẩm", "mặt hàng", "loại áo"},
	sizeField:          {"talla", "tallas", "tamaño", "tamanho", "tamanhos", "beden", "cỡ", "kích cỡ"},
	"garment_colour":   {"color de la prenda", "color de prenda", "cor da peça", "cor", "renk", "ürün rengi", "màu", "màu áo", "màu vải"},
	"placement":        {"posición", "ubicación", "colocación", "posição", "localização", "konum", "nakış yeri", "vị trí"},
	"threads":          {"hilos", "hilo", "colores de hilo", "cores de linha", "linhas", "iplik", "iplikler", "iplik rengi", "chỉ", "màu chỉ"},
	"speed":            {"velocidad", "velocidade", "hız", "tốc độ"},
	"cap_frame":        {"gorra", "gorras", "boné", "bonés", "şapka", "mũ", "nón"},
	"digitize":         {"digitalizar"},
	"agreed":           {"confirmado", "acordado", "onaylı", "onaylandı", "đã xác nhận"},
	"note":             {"nota", "notas", "observaciones", "comentarios", "observações", "obs", "not", "notlar", "açıklama", "ghi chú"},
}

// sizeField is the field that may be several columns: one for each size, with its pieces under it.
const sizeField = "size"

// TableColumns says which heading of a table is what: key of a field → heading. Of sizes that have
// a column each it is their headings, with commas between.
type TableColumns map[string]string

// BadCell is a cell of a table that an order cannot be made of.
type BadCell struct {
	Row    int    `json:"row" doc:"of the file, as a spreadsheet counts, from 1"`
	Column string `json:"column" doc:"its heading, or as column H where it has none; empty: the whole row"`
	Value  string `json:"value"`
	Why    string `json:"why"`
}

// TableOrder is one order of a table.
type TableOrder struct {
	OrderKeys
	Reference string
	Rows      []int  // of the file, from 1
	LineRows  []int  // of the file, from 1: the first of each line
	Key       string // of the order, the same however often it is read
	Digest    string // of all that it says
	Bad       []BadCell
}

// OrderTable is a table of orders that has been read.
type OrderTable struct {
	Columns TableColumns
	Unused  []string // headings that are nothing of an order
	Orders  []TableOrder
	Bad     []BadCell // of no order: totals that are others
	Left    []BadCell // what is not read and is nothing wrong: titles, totals, columns without a heading
	Days    string    // how its days are written, where that had to be told apart: dmy or mdy
}

// usualSizes are headings of columns that have a size's pieces under them; p, g and ch are of Portuguese and Spanish.
var usualSizes = regexp.MustCompile(`^(size )?(x{0,4}s|m|l|x{1,5}l|[2-9]xs|[2-9]xl|[2-9]x|one size|os|osfa|p{1,2}|g{1,3}|x{1,3}g{1,2}|e{1,3}x?g|ch)$`)

// sizesAcross are the headings among free ones that are a garment's sizes; fewer than two are none.
func sizesAcross(head []string, free func(h string) bool) string {
	var out []string
	for _, h := range head {
		if free(h) && usualSizes.MatchString(foldHeading(h)) {
			out = append(out, h)
		}
	}
	if len(out) < 2 {
		return ""
	}
	return strings.Join(out, ", ")
}

// headingsIn are the headings that a list with commas between names; nil where it names another one too.
func headingsIn(list string, at func(name string) (string, bool)) (out []string) {
	for name := range strings.SplitSeq(list, ",") {
		h, ok := at(name)
		if !ok {
			return nil
		}
		out = append(out, h)
	}
	return out
}

// headingAt finds a heading by its name, whatever its case and signs.
func headingAt(head []string) func(name string) (string, bool) {
	return func(name string) (string, bool) {
		for _, h := range head {
			if h != "" && foldHeading(h) == foldHeading(name) {
				return h, true
			}
		}
		return "", false
	}
}

// HeadingsKey names a table by its headings: tables that one sender makes have the
// same.
func HeadingsKey(head []string) string {
	var out []string
	for _, h := range head {
		if h != "" {
			out = append(out, foldHeading(h))
		}
	}
	sum := sha256.Sum256([]byte(strings.Join(out, "\x00")))
	return hex.EncodeToString(sum[:16])
}

func foldHeading(s string) string {
	s = strings.ReplaceAll(strings.ToLower(s), "i\u0307", "i") // İ of Turkish capitals
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" _-.:#*\t\n", r) }), " ")
}

// Columns finds out which heading is what: as said, then as kept from a table with the same
// headings, then by their names. A heading is one thing at most. Sizes may have a column each.
// What is said and is no heading, or no field, is an error.
func Columns(head []string, said, kept TableColumns) (TableColumns, error) {
	out, taken := TableColumns{}, map[string]bool{}
	at := headingAt(head)
	// across takes the columns that sizes have each.
	across := func(key, list string) (bool, error) {
		if _, one := at(list); one || key != sizeField {
			return false, nil
		}
		all := headingsIn(list, at)
		for _, h := range all {
			if taken[h] {
				return false, fmt.Errorf("the column %q is said to be two things", h)
			}
			taken[h] = true
		}
		if all != nil {
			out[key] = strings.Join(all, ", ")
		}
		return all != nil, nil
	}
	for key, name := range said {
		if !slices.ContainsFunc(TableFields, func(f TableField) bool { return f.Key == key }) {
			return nil, fmt.Errorf("an order has no %q; columns can be %s", key, fieldList())
		}
		if name == "" { // none
			taken["\x00"+key] = true
			continue
		}
		if many, err := across(key, name); many || err != nil {
			if err != nil {
				return nil, err
			}
			continue
		}
		h, ok := at(name)
		if !ok {
			return nil, fmt.Errorf("the table has no column %q for %s; it has %s", name, key, strings.Join(nonEmpty(head), ", "))
		}
		if taken[h] {
			return nil, fmt.Errorf("the column %q is said to be two things", h)
		}
		out[key], taken[h] = h, true
	}
	for key, name := range kept {
		if out[key] == "" && !taken["\x00"+key] {
			if many, err := across(key, name); many || err != nil {
				continue
			}
		}
		if h, ok := at(name); ok && out[key] == "" && !taken[h] && !taken["\x00"+key] {
			out[key], taken[h] = h, true
		}
	}
	for _, f := range TableFields {
		if out[f.Key] != "" || taken["\x00"+f.Key] {
			continue
		}
		for _, name := range slices.Concat([]string{strings.ReplaceAll(f.Key, "_", " ")}, f.names, otherNames[f.Key]) {
			if h, ok := at(name); ok && !taken[h] {
				out[f.Key], taken[h] = h, true
				break
			}
		}
		if out[f.Key] == "" {
			if err := calledTwice(head, taken, f); err != nil {
				return nil, err
			}
		}
	}
	if out[sizeField] == "" && !taken["\x00"+sizeField] {
		if list := sizesAcross(head, func(h string) bool { return h != "" && !taken[h] }); list != "" {
			out[sizeField] = list
		}
	}
	return out, nil
}

func nonEmpty(all []string) []string {
	return slices.DeleteFunc(slices.Clone(all), func(s string) bool { return s == "" })
}

func fieldList() string {
	var out []string
	for _, f := range TableFields {
		out = append(out, f.Key)
	}
	return strings.Join(out, ", ")
}

// The ways in which days with strokes between are written.
const (
	DayFirst   = "dmy"
	MonthFirst = "mdy"
)

// ReadOrders reads the orders of a table. Rows with one reference of one customer
// are the lines of one order; without a reference, a row without a customer is
// another line of the order before. days is DayFirst or MonthFirst; empty: as the
// table itself shows. Rows of one order that differ by nothing but size and colour of
// the garments are one line. What is wrong in a cell is told in its order's Bad; a table that
// cannot be read at all is an error.
func ReadOrders(s *cells.Sheet, h *TableHead, columns TableColumns, days string) (*OrderTable, error) {
	if h == nil {
		return nil, fmt.Errorf("the table is empty")
	}
	head := h.Names
	if !slices.Contains([]string{"", DayFirst, MonthFirst}, days) {
		return nil, fmt.Errorf("days are written %s or %s, not %q", DayFirst, MonthFirst, days)
	}
	t := &OrderTable{Columns: columns, Days: days}
	r := &tableReader{t: t, sheet: s, head: h, index: map[string]int{}, by: map[string]int{}, broken: map[string]bool{},
		sum: map[int]int{}, part: map[int]int{}, nameless: map[int]int{}}
	for key, h := range columns {
		r.index[key] = slices.Index(head, h)
	}
	used := slices.Collect(maps.Values(columns))
	if r.index[sizeField] < 0 {
		all := headingsIn(columns[sizeField], headingAt(head))
		for _, h := range all {
			r.sizes = append(r.sizes, sizeColumn{h, slices.Index(head, h)})
		}
		used = append(used, all...)
	}
	for _, f := range TableFields {
		if f.Needed && columns[f.Key] == "" && !(f.Key == "quantity" && len(r.sizes) > 0) {
			return nil, fmt.Errorf("no column is the %s: say which; the table has %s", f.Key,
				strings.Join(nonEmpty(head), ", "))
		}
	}
	for _, h := range head {
		if h != "" && !slices.Contains(used, h) {
			t.Unused = append(t.Unused, h)
		}
	}
	for i, row := range s.Rows[:h.Row] {
		if all := nonEmpty(row); len(all) > 0 {
			t.Left = append(t.Left, BadCell{i + 1, "", strings.Join(all, " "), "it stands above the headings"})
		}
	}
	if days == "" {
		r.tellDays()
	}
	for r.at = h.Row + 1; r.at < len(s.Rows); r.at++ {
		if len(nonEmpty(s.Rows[r.at])) > 0 && !r.passed() {
			r.row()
		}
	}
	r.tellNameless()
	if len(t.Orders) == 0 {
		return nil, fmt.Errorf("the table has headings and no orders under them")
	}
	seen := map[string]int{}
	for i := range t.Orders {
		o := &t.Orders[i]
		for k := range o.Line {
			o.Line[k].Colours = settledThreads(&o.Line[k])
		}
		o.Digest = digestOf(o)
		if o.Key = o.Digest; o.Reference != "" {
			o.Key = digestOf([]string{"reference", foldHeading(o.Customer), o.Reference})
			continue
		}
		if seen[o.Digest]++; seen[o.Digest] > 1 { // the like of it stands in the table before
			o.Key = digestOf([]string{o.Digest, strconv.Itoa(seen[o.Digest])})
		}
	}
	return t, nil
}

func digestOf(v any) string {
	if o, ok := v.(*TableOrder); ok {
		v = []any{o.Reference, o.OrderKeys}
	}
	b, err := json.Marshal(v)
	if err != nil { // it is of texts and numbers
		b = []byte(fmt.Sprint(v))
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:16])
}

type tableReader struct {
	t        *OrderTable
	sheet    *cells.Sheet
	head     *TableHead
	at       int // row that is read, from 0
	index    map[string]int
	by       map[string]int  // reference and customer → order
	sizes    []sizeColumn    // that have a column each
	broken   map[string]bool // columns of the row whose cell is told already
	sum      map[int]int     // pieces by their column, of all rows and since the last total
	part     map[int]int
	nameless map[int]int // cells of columns without a heading
}

// sizeColumn is a column with a size's pieces under it.
type sizeColumn struct {
	size string
	at   int
}

// cell is a cell of the row for a field; "" where there is none.
func (r *tableReader) cell(key string) string {
	if i, ok := r.index[key]; ok && i >= 0 {
		return r.text(i)
	}
	return ""
}

// text is what a cell of the row says: one that is a cell with others above says what stands in the first, a number that a
// workbook shows in another way than it is kept (1,200 or 1.2E+11) what it is.
func (r *tableReader) text(column int) string {
	at := cells.Cell{Row: r.at, Column: column}
	if top, ok := r.sheet.Below[at]; ok {
		at.Row = top
	}
	if kept, ok := r.sheet.Kept[at]; ok {
		return kept
	}
	if row := r.sheet.Rows[at.Row]; column < len(row) {
		return row[column]
	}
	return ""
}

// below reports whether a field's cell is one with the cell above it.
func (r *tableReader) below(column int) bool {
	_, ok := r.sheet.Below[cells.Cell{Row: r.at, Column: column}]
	return ok
}

func (r *tableReader) row() {
	customer, ref := r.cell("customer"), r.cell("reference")
	if ref == "" && r.below(r.index["customer"]) {
		customer = ""
	}
	n := r.at + 1
	key := foldHeading(customer) + "\x00" + ref
	at, more := r.by[key]
	switch {
	case ref == "" && customer == "" && len(r.t.Orders) > 0:
		at, more = len(r.t.Orders)-1, true
	case ref == "":
		more = false
	case customer == "": // another line of the order with that reference
		for i := range r.t.Orders {
			if r.t.Orders[i].Reference == ref {
				at, more = i, true
			}
		}
	}
	if !more {
		at = len(r.t.Orders)
		r.t.Orders = append(r.t.Orders, TableOrder{OrderKeys: OrderKeys{Customer: customer}, Reference: ref})
		r.by[key] = at
	}
	o := &r.t.Orders[at]
	o.Rows = append(o.Rows, n)
	r.unreadable(o)
	bad := func(key, value, why string) {
		if column := r.t.Columns[key]; !r.broken[column] {
			o.Bad = append(o.Bad, BadCell{n, column, value, why})
		}
	}
	if o.Customer == "" {
		bad("customer", "", "an order needs a customer")
	}
	r.order(o, bad)
	l := LineKeys{Design: r.cell("design"), Garment: r.cell("garment"), Placement: r.cell("placement")}
	if l.Design == "" {
		bad("design", "", "a line needs a design")
	}
	r.pieces(&l, o)
	if s := r.cell("speed"); s != "" {
		v, err := r.whole(s)
		if err != nil {
			bad("speed", s, "give stitches a minute as a whole number")
		}
		l.Speed = float64(v)
	}
	for _, x := range strings.FieldsFunc(r.cell("threads"), func(c rune) bool { return strings.ContainsRune(",;/\n", c) }) {
		l.Threads = append(l.Threads, strings.TrimSpace(x))
	}
	for _, b := range []struct {
		key string
		to  *bool
	}{{"cap_frame", &l.CapFrame}, {"digitize", &l.Digitize}} {
		s := r.cell(b.key)
		yes, ok := yesOf(s)
		if !ok {
			bad(b.key, s, "write yes or no")
		}
		*b.to = yes
	}
	o.add(n, &l)
}

// pieces reads how many pieces a row has, of which sizes and colour.
func (r *tableReader) pieces(l *LineKeys, o *TableOrder) {
	bad := func(column, value, why string) {
		if !r.broken[column] {
			o.Bad = append(o.Bad, BadCell{r.at + 1, column, value, why})
		}
	}
	// number reads the pieces of a column; ok is false where something is wrong with them.
	number := func(column int, heading, none string) (n int, ok bool) {
		s := r.text(column)
		if r.below(column) {
			bad(heading, s, "it is one cell for several rows: give each row its own pieces")
			return 0, false
		}
		n, err := r.whole(cmp.Or(s, none))
		switch {
		case errors.Is(err, errUnsure):
			bad(heading, s, err.Error())
		case err != nil && none != "" || n < 0:
			bad(heading, s, "give a whole number of pieces, or nothing")
		case err != nil || none == "" && n < 1:
			bad(heading, s, "give a whole number of pieces, 1 or more")
		default:
			r.sum[column] += n
			r.part[column] += n
			return n, true
		}
		return 0, false
	}
	colour := r.cell("garment_colour")
	wrong := false
	for _, c := range r.sizes {
		n, ok := number(c.at, c.size, "0")
		if wrong = wrong || !ok; n > 0 {
			l.Sizes = append(l.Sizes, SizeRow{colour, sizeNamed(c.size), n})
		}
	}
	in := InSizes(l.Sizes)
	column, has := r.index["quantity"]
	if has = has && column >= 0; in > 0 && (!has || r.text(column) == "") {
		l.Quantity = in
		return
	}
	heading := r.t.Columns["quantity"]
	if !has {
		if !wrong {
			bad(heading, "", "give a whole number of pieces, 1 or more")
		}
		return
	}
	n, ok := number(column, heading, "")
	l.Quantity = n
	switch {
	case !ok:
	case in > 0 && n != in:
		bad(heading, r.text(column), fmt.Sprintf("the sizes come to %d", in))
	case in == 0:
		size := ""
		if len(r.sizes) == 0 {
			size = r.cell(sizeField)
		}
		if colour != "" || size != "" {
			l.Sizes = []SizeRow{{colour, size, n}}
		}
	}
}

// sizeNamed is a size by the heading of its column.
func sizeNamed(heading string) string {
	if rest, ok := strings.CutPrefix(strings.ToLower(heading), "size "); ok {
		return heading[len(heading)-len(rest):]
	}
	return heading
}

// add takes a row in as a line, or as more sizes of a line before that is alike.
func (o *TableOrder) add(row int, l *LineKeys) {
	if len(l.Sizes) > 0 && len(l.Threads) > 0 {
		l.Colours, l.Threads = []GarmentThreads{{l.Sizes[0].Colour, l.Threads}}, nil
	}
	for i := range o.Line {
		to := &o.Line[i]
		if !to.alike(l) {
			continue
		}
		for _, g := range l.Colours {
			if to.threadsOn(g.Colour) == nil {
				to.Colours = append(to.Colours, g)
			}
		}
		for _, s := range l.Sizes {
			k := slices.IndexFunc(to.Sizes, func(x SizeRow) bool {
				return strings.EqualFold(x.Colour, s.Colour) && strings.EqualFold(x.Size, s.Size)
			})
			if k < 0 {
				to.Sizes = append(to.Sizes, s)
			} else {
				to.Sizes[k].Pieces += s.Pieces
			}
		}
		to.Quantity += l.Quantity
		to.Digitize = to.Digitize || l.Digitize
		return
	}
	o.Line, o.LineRows = append(o.Line, *l), append(o.LineRows, row)
}

// alike reports whether lines differ by nothing but size and colour of the garments, and the threads on a colour.
func (l *LineKeys) alike(o *LineKeys) bool {
	if len(l.Sizes) == 0 || len(o.Sizes) == 0 || l.Design != o.Design || l.Garment != o.Garment || l.Placement != o.Placement ||
		l.CapFrame != o.CapFrame || l.Speed != o.Speed {
		return false
	}
	for _, s := range o.Sizes {
		same := func(x SizeRow) bool { return strings.EqualFold(x.Colour, s.Colour) }
		if slices.ContainsFunc(l.Sizes, same) && !slices.Equal(l.threadsOn(s.Colour), o.threadsOn(s.Colour)) {
			return false
		}
	}
	return true
}

// threadsOn are the threads that a row said for garments of a colour; nil: none.
func (l *LineKeys) threadsOn(colour string) []string {
	for _, g := range l.Colours {
		if strings.EqualFold(g.Colour, colour) {
			return g.Threads
		}
	}
	return nil
}

// settledThreads are a line's threads by colour of the garments, where they differ; threads that all have are the
// line's own.
func settledThreads(l *LineKeys) []GarmentThreads {
	if len(l.Colours) == 0 {
		return nil
	}
	all := l.Colours[0].Threads
	for _, s := range l.Sizes {
		if !slices.Equal(l.threadsOn(s.Colour), all) {
			return l.Colours
		}
	}
	l.Threads = all
	return nil
}

// order reads what a row says of the whole order; a later row may repeat it, and
// say nothing else.
func (r *tableReader) order(o *TableOrder, bad func(key, value, why string)) {
	for _, d := range []struct {
		key string
		to  *string
	}{{"due", &o.Due}, {"latest", &o.Latest}, {"goods", &o.Goods}} {
		s := r.cell(d.key)
		if s == "" {
			continue
		}
		day, err := readDay(s, r.t.Days)
		switch {
		case err != nil:
			bad(d.key, s, err.Error())
		case *d.to != "" && *d.to != day.String():
			bad(d.key, s, "it is another day than in the order's row before, "+*d.to)
		default:
			*d.to = day.String()
		}
	}
	if s := r.cell("priority"); s != "" {
		v, err := words.ParseNumber(s)
		switch {
		case err != nil || !(v >= 0):
			bad("priority", s, "give a number, 1 for an ordinary order")
		case o.Priority != nil && *o.Priority != v:
			bad("priority", s, "it is another priority than in the order's row before")
		default:
			o.Priority = &v
		}
	}
	s := r.cell("agreed")
	yes, ok := yesOf(s)
	switch {
	case !ok:
		bad("agreed", s, "write yes or no")
	case yes:
		o.State = Agreed
	}
	for _, s := range strings.FieldsFunc(r.cell("customer_address"), func(c rune) bool { return strings.ContainsRune(",;\n", c) }) {
		if s = strings.TrimSpace(s); s != "" && !slices.Contains(o.Address, s) {
			o.Address = append(o.Address, s)
		}
	}
	if s := r.cell("note"); s != "" && !strings.Contains(o.Note, s) {
		o.Note = strings.TrimSpace(o.Note + "\n" + s)
	}
}
