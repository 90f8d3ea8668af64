package paper

import (
	"bytes"
	"encoding/base64"
	"fmt"
	stdhtml "html"
	"io"
	"net/http"
	"strings"

	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"

	"needlepace/picture"
	"needlepace/words"
)

// html is an HTML file under way. Text is escaped by its methods.
type html struct {
	bytes.Buffer
	by      *words.Writer
	chapter bool // one has begun: sections stand below it, else below the title
}

// mostSVG is the largest drawing that stands in the file as lines, bytes: more
// stitches than that are smaller, and no worse to look at, as a picture of points.
const mostSVG = 400 << 10

// documentStyle is the whole of the file's look: it asks for nothing outside.
const documentStyle = `:root{color-scheme:light}
body{margin:0;background:#fbfaf7;color:#1d2124;font:16px/1.5 Go,'Source Sans 3',system-ui,sans-serif}
main,header,footer{max-width:48rem;margin:0 auto;padding:0 1.25rem}
header{padding-top:2rem;border-bottom:1px solid #1d2124;display:flex;flex-wrap:wrap;gap:1rem;justify-content:space-between}
header img{max-height:4rem;max-width:12rem}header p{margin:0 0 .6rem}h1{font-size:1.5rem;margin:1.6rem 0 .5rem;line-height:1.25}
h2{font-size:1.3rem;margin:2.4rem 0 .5rem}h3{font-size:1.05rem;margin:1.4rem 0 .4rem}
h1,h2,h3,b,th,dd.big,.lead{font-weight:500}.quiet,dt,caption,figcaption,footer{color:#4f565c;font-size:.88rem}
.lead{font-size:1.3rem;line-height:1.35}figure{margin:1rem 0}figure svg,figure img{max-width:100%;height:auto;display:block}
.narrow{display:none}@media screen and (max-width:40rem){.wide{display:none}.narrow{display:block}.narrow text[font-size="11"]{font-size:12px}}
dl.facts{display:grid;grid-template-columns:max-content 1fr;gap:.15rem 1rem;margin:.6rem 0}dl.facts dd{margin:0}
dl.figures{display:grid;grid-template-columns:repeat(auto-fit,minmax(11rem,1fr));gap:1rem}dl.figures div{border-left:1px solid #cfd0cc;padding-left:.8rem}
dl.figures dd{margin:0}dd.big{font-size:1.6rem;line-height:1.2}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%;margin:.6rem 0;font-variant-numeric:tabular-nums}caption{text-align:left;padding-bottom:.3rem}
th,td{text-align:left;vertical-align:top;padding:.3rem .6rem .3rem 0;border-bottom:1px solid #cfd0cc}thead th{border-bottom-color:#1d2124;font-size:.88rem}
pre{overflow-x:auto;white-space:pre;font-size:.75rem}.n{text-align:right}td.n{white-space:nowrap}.box{display:inline-block;width:.9em;height:.9em;border:1.5px solid #1d2124}
ol.points{list-style:none;padding:0}ol.points>li{display:grid;grid-template-columns:2.2rem 1fr;margin:1rem 0;break-inside:avoid}
ol.points .no{width:1.6rem;height:1.6rem;border-radius:50%;background:#1d2124;color:#fff;text-align:center;font-size:.88rem;line-height:1.6rem}
ol.points p{margin:0;display:flex;justify-content:space-between;gap:1rem}
.blanks{display:grid;grid-template-columns:repeat(auto-fit,minmax(8rem,1fr));gap:1.2rem;margin:3rem 0 1rem}.blanks span{border-top:1px solid #1d2124;padding-top:.2rem;font-size:.88rem;color:#4f565c}
footer{border-top:1px solid #cfd0cc;margin-top:3rem;padding-top:.8rem;padding-bottom:2rem}
@media print{body{background:#fff;font-size:11pt}h2.anew{break-before:page}}`

// HTML writes the document as one file that asks for nothing outside itself.
func (d *Document) HTML(w io.Writer) error {
	h := &html{by: d.W}
	h.put(`<!doctype html><html lang="%s"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>%s</title><style>`,
		d.W.Tag(), d.Title)
	for i, ttf := range [][]byte{goregular.TTF, gomedium.TTF} { // pictures are laid out in it
		fmt.Fprintf(h, "@font-face{font-family:Go;font-weight:%d;src:url(data:font/ttf;base64,%s)}\n", 400+100*i,
			base64.StdEncoding.EncodeToString(ttf))
	}
	h.WriteString(documentStyle)
	h.put(`</style></head><body><header><div>`)
	if len(d.Shop.Logo) > 0 {
		h.image(d.Shop.Logo, d.Shop.Name)
	}
	h.put(`<p><b>%s</b>`, d.Shop.Name)
	for _, l := range d.Shop.Lines {
		h.put(`<br><span class="quiet">%s</span>`, l)
	}
	h.put(`</p></div><p><b>%s</b><br>%s</p></header><main>`, d.Kind, d.Number)
	h1 := false
	for _, part := range d.Parts {
		if t, ok := part.(Heading); ok && !h1 {
			h.put(`<h1>%s</h1>`, t.Text)
			h1 = true
			continue
		}
		if !h1 {
			h.put(`<h1>%s</h1>`, d.Title)
			h1 = true
		}
		part.asHTML(h)
	}
	h.put(`</main><footer>%s</footer></body></html>`+"\n", d.Foot)
	_, err := w.Write(h.Bytes())
	return err
}

// put writes markup with texts in it, each escaped; a number stays on one line with its unit.
func (h *html) put(format string, texts ...string) {
	firm := make([]string, len(texts))
	for i, s := range texts {
		firm[i] = words.Firm(s)
	}
	h.exactly(format, firm...)
}

// exactly is put for texts that are copied.
func (h *html) exactly(format string, texts ...string) {
	a := make([]any, len(texts))
	for i, s := range texts {
		a[i] = stdhtml.EscapeString(oneText(s))
	}
	fmt.Fprintf(h, format, a...)
}

func (h *html) image(data []byte, alt string) {
	h.put(`<img alt="%s" src="data:`+http.DetectContentType(data)+`;base64,`+base64.StdEncoding.EncodeToString(data)+`">`, alt)
}

func (t Heading) asHTML(h *html) {
	class := ""
	if t.Anew {
		class = ` class="anew"`
	}
	tag := "h2"
	if t.Level > 1 && h.chapter {
		tag = "h3"
	}
	h.chapter = h.chapter || t.Level < 2
	h.put(`<`+tag+class+`>%s</`+tag+`>`, t.Text)
}

func (t Paragraph) asHTML(h *html) {
	class := ""
	switch {
	case t.Lead:
		class = ` class="lead"`
	case t.Quiet:
		class = ` class="quiet"`
	}
	h.put(`<p` + class + `>`)
	for i, line := range strings.Split(t.Text, "\n") {
		if i > 0 {
			h.put(`<br>`)
		}
		h.put(`%s`, line)
	}
	h.put(`</p>`)
}

func (b Bullets) asHTML(h *html) {
	h.put(`<ul>`)
	for _, s := range b {
		h.put(`<li>%s</li>`, s)
	}
	h.put(`</ul>`)
}

func (f Facts) asHTML(h *html) {
	h.put(`<dl class="facts">`)
	for _, x := range f {
		if x[1] != "" {
			h.put(`<dt>%s</dt><dd>%s</dd>`, x[0], x[1])
		}
	}
	h.put(`</dl>`)
}

func (f Figures) asHTML(h *html) {
	h.put(`<dl class="figures">`)
	for _, x := range f {
		h.put(`<div><dt>%s</dt><dd class="big">%s</dd><dd class="quiet">%s</dd></div>`, x.What, x.Big, x.Note)
	}
	h.put(`</dl>`)
}

func (d Drawing) asHTML(h *html) {
	h.put(`<figure>`)
	var b bytes.Buffer
	picture.SVG(&b, d.Pic, picture.Light()) // a bytes.Buffer never fails
	switch {
	case d.Narrow != nil:
		fmt.Fprintf(h, `<div class="wide">%s</div><div class="narrow">`, b.Bytes())
		picture.SVG(h, d.Narrow, picture.Light())
		h.WriteString(`</div>`)
	case b.Len() <= mostSVG:
		h.Write(b.Bytes())
	default:
		b.Reset()
		if picture.PNG(&b, d.Pic, picture.Light(), 2) == nil {
			h.image(b.Bytes(), d.Pic.Title()+". "+d.Pic.Desc())
		}
	}
	if d.Caption != "" {
		h.put(`<figcaption>%s</figcaption>`, d.Caption)
	}
	h.put(`</figure>`)
}

func (g Grid) asHTML(h *html) {
	if g.Caption != "" {
		h.put(`<div class="scroll" tabindex="0" role="region" aria-label="%s"><table><caption>%s</caption>`, g.Caption, g.Caption)
	} else {
		h.put(`<div class="scroll" tabindex="0"><table>`)
	}
	h.put(`<thead><tr>`)
	for _, c := range g.Columns {
		if c.Head == "" { // room on paper
			continue
		}
		h.put(`<th scope="col"`+right(c)+`>%s</th>`, c.Head)
	}
	h.put(`</tr></thead><tbody>`)
	for _, row := range g.Rows {
		h.put(`<tr>`)
		for i, c := range g.Columns {
			switch {
			case c.Head == "":
			case c.Boxes:
				h.put(`<td><span class="box" role="img" aria-label="%s"></span></td>`, c.Head)
			case c.Bold:
				h.put(`<td`+right(c)+`><b>%s</b></td>`, row[i])
			default:
				h.put(`<td`+right(c)+`>%s</td>`, row[i])
			}
		}
		h.put(`</tr>`)
	}
	h.put(`</tbody></table></div>`)
}

func right(c GridColumn) string {
	if c.Right {
		return ` class="n"`
	}
	return ""
}

func (it Item) asHTML(h *html) {
	n := words.Whole(it.Number).Text(h.by)
	h.put(`<ol class="points" start="`+n+`"><li><span class="no">`+n+`</span><div><p><b>%s</b> <b>%s</b></p>`, it.Text, it.Right)
	Facts(it.Facts).asHTML(h)
	h.put(`</div></li></ol>`)
}

func (b Blanks) asHTML(h *html) {
	h.put(`<p class="blanks">`)
	for _, s := range b {
		h.put(`<span>%s</span>`, s)
	}
	h.put(`</p>`)
}

func (v Verbatim) asHTML(h *html) {
	h.put(`<details open><summary>%s</summary>`, v.Caption)
	if v.File != "" {
		h.exactly(`<p><a download="%s" href="data:text/plain;charset=utf-8;base64,`+base64.StdEncoding.EncodeToString([]byte(v.Text))+`">%s</a></p>`, v.File, v.File)
	}
	h.exactly(`<pre class="quiet" tabindex="0">%s</pre></details>`, v.Text)
}
