package pages

import (
	"bytes"
	"fmt"
	"html/template"
	"net/url"
	"regexp"
	"strings"
	"sync"

	"needlepace/machine"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/words"
)

// templates are the layout, the shared pieces and the pages, in one set. What a page has in a place of the layout goes by
// the page's name too: "plan.html main".
var templates = sync.OnceValues(func() (*template.Template, error) {
	set, err := template.New("").Funcs(templateFuncs).ParseFS(templateFiles, "templates/layout.html", "templates/piece_*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range pageNames() {
		b, err := templateFiles.ReadFile("templates/" + name)
		if err == nil {
			_, err = set.New(name).Parse(places.ReplaceAllString(string(b), `{{define "`+name+` $1"}}`))
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return set, nil
})

// places are where pages begin what they have for the layout.
var places = regexp.MustCompile(`\{\{define "(main|scripts|take)"\}\}`)

// pageNames are the files of pages' templates.
func pageNames() (names []string) {
	files, _ := templateFiles.ReadDir("templates") // embedded
	for _, f := range files {
		if f.Name() != "layout.html" && !strings.HasPrefix(f.Name(), "piece_") {
			names = append(names, f.Name())
		}
	}
	return names
}

// In is what the page has in a place of the layout.
func (p *page) In(place string) (template.HTML, error) {
	set, err := templates()
	if err != nil {
		return "", err
	}
	b := buffers.Get().(*bytes.Buffer)
	b.Reset()
	defer buffers.Put(b)
	if t := set.Lookup(p.template + " " + place); t != nil {
		err = t.Execute(b, p)
	}
	return template.HTML(b.String()), err
}

var templateFuncs = template.FuncMap{
	"jobs":      jobChoices,
	"counted":   func(n int, noun string) words.Value { return words.Number{V: float64(n), Noun: noun} },
	"clocked":   func(s float64) words.Value { return words.Clock(s) },
	"ofrun":     ofRun,
	"unit":      unitText,
	"secs":      func(s float64) words.Value { return words.Seconds(s) },
	"speed":     func(v float64) words.Value { return words.PerMinute(v) },
	"whole":     func(n int) words.Value { return words.Whole(n) },
	"chance":    func(p float64) words.Value { return words.Chance(p) },
	"big":       big,
	"link":      func(what any, to ...any) link { return link{fmt.Sprint(to...), what} },
	"axis":      axis,
	"defs":      func() template.HTML { return stripDefs },
	"mark":      func() template.HTML { return markSVG },
	"svg":       inlineSVG,
	"list":      func(v ...any) []any { return v },
	"minus":     func(a, b float64) float64 { return a - b },
	"plus1":     func(i int) int { return i + 1 },
	"readable":  func() string { return strings.Join(stitchfile.Extensions(), ", ") },
	"writable":  stitchfile.Writable,
	"formats":   stitchfile.Formats,
	"sentence":  words.Sentence,
	"capital":   capital,
	"statename": stateName,
	"cash":      cash,
}

// inlineSVG is a picture that follows the page's colours.
func inlineSVG(p picture.Picture) (template.HTML, error) {
	var b strings.Builder
	err := picture.SVG(&b, p, picture.Page())
	return template.HTML(b.String()), err
}

// With is the page's own address with some values of its query set, or taken away
// where they are empty: with "csv" "x". It is the page's also where a form of the
// page was sent elsewhere and is shown again.
func (p *page) With(pairs ...string) template.URL {
	q, err := url.ParseQuery(p.Query)
	if err != nil {
		q = url.Values{}
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] == "" {
			q.Del(pairs[i])
		} else {
			q.Set(pairs[i], pairs[i+1])
		}
	}
	return template.URL((&url.URL{Path: p.Path, RawQuery: q.Encode()}).String())
}

// markSVG is the needle that is a strip: the sign of the program.
const markSVG template.HTML = `<svg viewBox="0 0 120 20" aria-hidden="true"><clipPath id="needle"><path d="M1 10C1 6.4 3.200 4.600 7 4.600h62L119 10 69 15.400H7C3.200 15.400 1 13.600 1 10zm5 0c0 1.100.8 1.800 1.800 1.800h11c1 0 1.800-.7 1.800-1.800s-.8-1.800-1.800-1.800h-11C6.800 8.200 6 8.900 6 10z" clip-rule="evenodd"/></clipPath>` +
	`<g clip-path="url(#needle)"><rect class="f-ink" width="62" height="20" fill="currentColor"/><rect class="p-long_stitches" x="62" width="16" height="20"/><rect class="p-ramps" x="78" width="9" height="20"/>` +
	`<rect class="p-trims" x="87" width="6" height="20"/><rect class="p-colour_stops" x="93" width="10" height="20"/><rect class="p-start_end" x="103" width="17" height="20"/></g></svg>`

// jobChoice is a kind of job that may be ticked.
type jobChoice struct {
	Value string // its name
	Key   string // of its words
	On    bool
}

// jobChoices are all kinds of job, those of chosen ticked.
func jobChoices(chosen machine.Jobs) (out []jobChoice) {
	for kind := range machine.AllJobs.Each() {
		out = append(out, jobChoice{kind.String(), "job." + kind.String(), chosen&kind != 0})
	}
	return out
}
