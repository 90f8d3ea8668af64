package trial

import (
	"bytes"
	"image"
	"math"
	"path"

	"needlepace/words"
)

// ScaleColumns are the columns of the sheet that says how large photographs are: two
// points on one, as shares of its width and height from the top left, and how far they
// lie from each other.
var ScaleColumns = []string{"trial", "photo", "x1", "y1", "x2", "y2", "mm"}

// scale is a length laid on a photograph.
type scale struct {
	where, photo   string
	x1, y1, x2, y2 float64
	mm             float64
}

func scaleOf(where string, get func(string) string, say func(string, ...any)) (x scale, ok bool) {
	x = scale{where: where, photo: get("photo")}
	if x.photo == "" {
		return x, false
	}
	for _, c := range []struct {
		column string
		to     *float64
		most   float64
	}{{"x1", &x.x1, 1}, {"y1", &x.y1, 1}, {"x2", &x.x2, 1}, {"y2", &x.y2, 1}, {"mm", &x.mm, 2000}} {
		v, err := words.ParseNumber(get(c.column))
		if err != nil || !(v >= 0 && v <= c.most) {
			say("%s: %s is %q; give 0 to %v", where, c.column, get(c.column), c.most)
			return x, false
		}
		*c.to = v
	}
	if x.mm == 0 || math.Hypot(x.x2-x.x1, x.y2-x.y1) < 0.01 {
		say("%s: the two points lie on each other, or nothing is said of how far apart they are", where)
		return x, false
	}
	return x, true
}

// lay gives the photograph its width.
func (x scale) lay(r *Returns, say func(string, ...any)) {
	for i := range r.Photos {
		p := &r.Photos[i]
		if path.Base(p.File) != path.Base(x.photo) {
			continue
		}
		cfg, _, err := image.DecodeConfig(bytes.NewReader(p.JPEG))
		if err != nil {
			continue
		}
		w, h := float64(cfg.Width), float64(cfg.Height)
		p.WidthMM = x.mm * w / math.Hypot((x.x2-x.x1)*w, (x.y2-x.y1)*h)
		return
	}
	say("%s: there is no photograph %q to lay a length on", x.where, x.photo)
}
