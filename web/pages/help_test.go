package pages

import (
	"slices"
	"strings"
	"testing"

	"needlepace/help"
	"needlepace/words"
)

// Each page's template has its place in the help, and each place is there.
func TestEveryTemplateHasItsTopic(t *testing.T) {
	all := pageNames()
	for _, name := range all {
		at, ok := helpAt[name]
		topic, id, _ := strings.Cut(at, "#")
		if found, has := help.Find(topic); !ok || at != "" && (!has || !found.Has(id)) {
			t.Errorf("%s: there is no %q in the help", name, at)
		}
	}
	for name := range helpAt {
		if !slices.Contains(all, name) {
			t.Errorf("there is no page %s", name)
		}
	}
}

// A word of the glossary is a button where it stands first as a word that may be one,
// and there only; all else of the page stays as it is.
func TestAWordIsExplainedWhereItStandsFirst(t *testing.T) {
	const says = `<button type="button" class="term" popovertarget="means-knee">`
	for _, c := range []struct{ page, want string }{
		{`<p>knee</p>`, `<p>` + says + `knee</button></p>`},
		{`<p>Knees. The knee</p>`, `<p><span class="nb">` + says + `Knees</button>.</span> The knee</p>`},
		{`<p>A knee</p><p>a knee</p>`, `<p>A ` + says + `knee</button></p><p>a knee</p>`},
		{`<p>kneecap x-knee knee-y</p><b title="knee">a knee,</b>`, `<p>kneecap x-knee knee-y</p><b title="knee">a <span class="nb">` + says + `knee</button>,</span></b>`},
		{`<a href="/">knee</a><label>a <b>knee</b></label><h1>knee</h1><svg><text>knee</text></svg><i class="x vh">knee</i><br>` +
			`<div aria-hidden="true"><div>knee</div><img> knee</div><p>knee</p>`,
			`<a href="/">knee</a><label>a <b>knee</b></label><h1>knee</h1><svg><text>knee</text></svg><i class="x vh">knee</i><br>` +
				`<div aria-hidden="true"><div>knee</div><img> knee</div><p>` + says + `knee</button></p>`},
		{`<p>&lt;b&gt; knee &amp; more</p>`, `<p>&lt;b&gt; ` + says + `knee</button> &amp; more</p>`},
		{`<noscript><img src="/a/knee?b"></noscript><p>knee</p>`, `<noscript><img src="/a/knee?b"></noscript><p>` + says + `knee</button></p>`},
		{`<p>nothing</p>`, `<p>nothing</p>`},
	} {
		got := string(explained([]byte("<p>knee</p><main>"+c.page+"</main>"), nil))
		want := "<p>knee</p><main>" + c.want
		if !strings.HasPrefix(got, want) || strings.Count(got, "popovertarget") > 1 || !strings.HasSuffix(got, "</main>") {
			t.Errorf("%s is\n%s", c.page, got)
		}
		meaning := words.Say("glossary.knee").Text(nil)
		if strings.Contains(c.want, "button") != strings.Contains(got, `popover id="means-knee"`) || strings.Contains(c.want, "button") != strings.Contains(got, meaning) {
			t.Errorf("the meaning is missing or too much: %s", got)
		}
	}
}
