package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"

	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"

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
var assets = sync.OnceValue(func() map[string]asset {
	all := map[string]asset{}
	put := func(name string, body []byte) {
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
	put("fonts/go-regular.ttf", goregular.TTF)
	put("fonts/go-medium.ttf", gomedium.TTF)
	put("fonts/go-italic.ttf", goitalic.TTF)
	put("css/pictures.css", []byte(picture.Stylesheet()))
	put("js/cividis.js", []byte(cividisModule()))
	for _, l := range words.Languages() {
		put("js/language-"+l.Tag.String()+".js", []byte(l.Script(scriptWords...)))
	}
	return all
})

// scriptWords are the groups of phrases that the scripts say.
var scriptWords = []string{"count", "time", "length", "speed", "page", "work", "order", "upload", "drawing", "timing", "hearing"}

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

// serveAsset answers /assets/…; a browser that has it asks only whether it is
// still the same.
func serveAsset(c *serve.Call) error {
	a, ok := assets()[c.PathValue("name")]
	if !ok {
		http.NotFound(c.W, c.Request)
		return nil
	}
	c.W.Header().Set("Content-Type", a.kind)
	c.W.Header().Set("ETag", a.tag)
	c.W.Header().Set("Cache-Control", "no-cache")
	if strings.HasPrefix(c.PathValue("name"), "fonts/") {
		c.W.Header().Set("Cache-Control", "max-age=604800")
	}
	if c.Header.Get("If-None-Match") == a.tag {
		c.W.WriteHeader(http.StatusNotModified)
		return nil
	}
	_, err := c.W.Write(a.body)
	return err
}
