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
	where          words.Message
	photo          string
	x1, y1, x2, y2 float64
	mm             float64
}

func (r *reading) scaleOf(c row) (x scale, ok bool) {
	x = scale{where: c.where, photo: c.get("photo")}
	if x.photo == "" {
		return x, false
	}
	for _, v := range []struct {
		column string
		to     *float64
		most   float64
	}{{"x1", &x.x1, 1}, {"y1", &x.y1, 1}, {"x2", &x.x2, 1}, {"y2", &x.y2, 1}, {"mm", &x.mm, 2000}} {
		n, err := words.ParseNumber(c.get(v.column))
		if err != nil || !(n >= 0 && n <= v.most) {
			r.came.Said.Say("returns.no-point", words.Args{"where": c.where, "column": words.Name(v.column), "text": words.Name(c.get(v.column)), "most": words.Fixed(v.most, 0)})
			return x, false
		}
		*v.to = n
	}
	if x.mm == 0 || math.Hypot(x.x2-x.x1, x.y2-x.y1) < 0.01 {
		r.came.Said.Say("returns.no-length", words.Args{"where": c.where})
		return x, false
	}
	return x, true
}

// lay gives the photograph its width.
func (r *reading) lay(x scale) {
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
	r.came.Said.Say("returns.no-photo", words.Args{"where": x.where, "photo": words.Name(x.photo)})
}
