package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"regexp"
	"strings"
	"sync"

	"needlepace/picture"
	"needlepace/web/serve"
	"needlepace/words"
)

//go:embed assets
var assetFiles embed.FS

// asset is one thing the pages are made of, with its tag for caches.
type asset struct {
	body []byte
	kind string // media type
	tag  string
}

// assets are all files under /assets/: those embedded, and those made from
// what stands elsewhere in the program (fonts, colours).
func assets() map[string]asset { return assetsOf().all }

// assetRoot is where pages find the files: an address that is another whenever any of
// them is, so that browsers need never ask whether one is still the same.
func assetRoot() string { return "/assets/" + assetsOf().version }

// assetSet is all files, and one word for their contents.
type assetSet struct {
	all     map[string]asset
	version string
}

var assetsOf = sync.OnceValue(func() assetSet {
	all := map[string]asset{}
	whole := sha256.New()
	put := func(name string, body []byte) {
		fmt.Fprintln(whole, name, len(body))
		whole.Write(body) //nolint:errcheck // a hash takes all
		kind := mime.TypeByExtension(path.Ext(name))
		switch path.Ext(name) {
		case ".js":
			kind = "text/javascript; charset=utf-8"
		case ".ttf":
			kind = "font/ttf"
		case ".webmanifest":
			kind = "application/manifest+json"
		}
		sum := sha256.Sum256(body)
		all[name] = asset{body, kind, `"` + hex.EncodeToString(sum[:12]) + `"`}
	}
	fs.WalkDir(assetFiles, "assets", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		body, err := assetFiles.ReadFile(name)
		if err == nil {
			put(strings.TrimPrefix(name, "assets/"), body)
		}
		return err
	})
	faces := ""
	for _, f := range fontFiles {
		part, other, css, err := f.parts()
		if err != nil {
			panic(err) // it is part of the program
		}
		put("fonts/"+f.name+".ttf", part)
		put("fonts/"+f.name+"-other.ttf", other)
		faces += css
	}
	put("css/fonts.css", []byte(faces))
	put("css/pictures.css", []byte(picture.Stylesheet()))
	var sheets [][]byte
	for _, name := range styleSheets {
		a, ok := all["css/"+name+".css"]
		if !ok {
			panic("no css/" + name + ".css") // it is part of the program
		}
		sheets = append(sheets, a.body)
	}
	put("css/all.css", bytes.Join(sheets, []byte("\n")))
	put("js/cividis.js", []byte(cividisModule()))
	for _, l := range words.Languages() {
		put("js/language-"+l.Tag.String()+".js", []byte(l.Script(scriptWords...)))
	}
	set := assetSet{all, hex.EncodeToString(whole.Sum(nil)[:8])}
	for name, a := range all { // they find each other as pages find them
		a.body = bytes.ReplaceAll(a.body, []byte(`"/assets/`), []byte(`"/assets/`+set.version+`/`))
		all[name] = a
	}
	return set
})

// styleSheets are the sheets of every page, in their order. They go out as one: packed together they weigh half, and a
// browser waits for one of them instead of twelve.
var styleSheets = []string{"fonts", "pictures", "base", "page", "strip", "design", "run", "orders", "bars", "phones", "today", "print"}

// scriptWords are the groups of phrases that the scripts say.
var scriptWords = []string{"live", "count", "day", "time", "length", "speed", "page", "work", "order", "upload", "drawing", "timing", "hearing",
	"bars", "queue", "find"}

// cividisModule is the speed scale of package picture as a script module: 256
// colours, slow to fast.
func cividisModule() string {
	var b strings.Builder
	b.WriteString("// made from package picture\nexport const cividis = new Uint8Array([")
	for i := range 256 {
		c := picture.Cividis(float64(i) / 255)
		fmt.Fprintf(&b, "%d,%d,%d,", c.R, c.G, c.B)
	}
	b.WriteString("]);\n")
	return b.String()
}

// serveWorker gives the script that answers for the pages when the shop is out of
// reach: it may do so for the folder that it stands in.
func serveWorker(c *serve.Call) error {
	c.SetPathValue("name", "js/worker.js")
	return serveAsset(c)
}

// versioned is the name of a file with the version of all before it.
var versioned = regexp.MustCompile(`^([0-9a-f]{16})/(.+)$`)

// serveAsset answers /assets/VERSION/…, which a browser keeps for good. Under another
// version, or none, a browser that has the file asks whether it is still the same.
func serveAsset(c *serve.Call) error {
	name, life := c.PathValue("name"), "no-cache"
	if m := versioned.FindStringSubmatch(name); m != nil {
		name = m[2]
		if m[1] == assetsOf().version {
			life = "public, max-age=31536000, immutable"
		}
	}
	a, ok := assets()[name]
	if !ok {
		http.NotFound(c.W, c.Request)
		return nil
	}
	c.W.Header().Set("Content-Type", a.kind)
	c.W.Header().Set("ETag", a.tag)
	c.W.Header().Set("Cache-Control", life)
	if c.Header.Get("If-None-Match") == a.tag {
		c.W.WriteHeader(http.StatusNotModified)
		return nil
	}
	_, err := c.W.Write(a.body)
	return err
}
