package pages

import (
	"strings"
	"testing"
)

func TestFiguresOfAPageStayOnOneLine(t *testing.T) {
	for _, c := range []struct{ page, want string }{ // ~ is the space that does not break
		{`<p title="36 s > 7 s">It takes 36 s<br>of 7.6 %</p>`, `<p title="36 s > 7 s">It takes 36~s<br>of 7.6~%</p>`},
		{`<b>36</b> s, <small>28.55</small> EUR`, `<b>36</b>~s, <small>28.55</small>~EUR`},
		{`<svg><text>36 s</text></svg> 36 s`, `<svg><text>36 s</text></svg> 36~s`},
		{`<textarea name="t">36 s`, `<textarea name="t">36~s`}, // never closed: nothing to keep
		{`<pre>36 s</pre><code>7 mm</code><script>1 s</script><style>2 s</style><textarea>3 s</textarea><option>3 s</option>4 s`,
			`<pre>36 s</pre><code>7 mm</code><script>1 s</script><style>2 s</style><textarea>3 s</textarea><option>3 s</option>4~s`},
		{`<input value="36 s"><!-- 36 s -->7 <em>mm</em>`, `<input value="36 s"><!-- 36 s -->7 <em>mm</em>`},
		{`36 s<`, `36~s<`}, {"", ""},
	} {
		if got := string(firm([]byte(c.page))); got != strings.ReplaceAll(c.want, "~", "\u00a0") {
			t.Errorf("%s\nis %s", c.page, strings.ReplaceAll(got, "\u00a0", "~"))
		}
	}
}
