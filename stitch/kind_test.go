package stitch_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/stitch"
)

// places makes a design that strikes the places (mm, x and y in turn), all of it
// one thread from the first on.
func places(xy ...float64) *stitch.Design {
	d := &stitch.Design{}
	px, py := 0, 0
	for i := 0; i+1 < len(xy); i += 2 {
		x, y := int(math.Round(10*xy[i])), int(math.Round(10*xy[i+1]))
		d.Records = append(d.Records, stitch.Record{DX: int16(x - px), DY: int16(y - py), Op: stitch.Sew})
		px, py = x, y
	}
	return d
}

// most is the kind that most of the records are.
func most(kinds []stitch.Kind) stitch.Kind {
	var n [stitch.NumKinds]int
	best := stitch.NotSewn
	for _, k := range kinds {
		if n[k]++; n[k] > n[best] {
			best = k
		}
	}
	return best
}

// zigzag is a column of the width with lines step mm apart.
func zigzag(wide, step float64, lines int) (xy []float64) {
	for i := range lines {
		xy = append(xy, float64(i)*step, float64(i%2)*wide)
	}
	return xy
}

func TestKindsByTheirDefinition(t *testing.T) {
	var run, bean, rows, split, long []float64
	for i := range 20 {
		run = append(run, 2.5*float64(i), 0)
		a, b := 2*float64(i), 2*float64(i+1)
		bean = append(bean, b, 0, a, 0, b, 0)
		for k := range 6 {
			x := 4 * float64(k)
			if i%2 == 1 {
				x = 20 - x
			}
			rows = append(rows, x+float64(i%4), 0.4*float64(i))
		}
		for k := range 8 { // 49 mm is no column
			x := 7 * float64(k)
			if i%2 == 1 {
				x = 49 - x
			}
			long = append(long, x, 0.4*float64(i))
		}
		split = append(split, 7, 0.2*float64(i), 14*float64((i+1)%2), 0.2*float64(i))
	}
	for _, c := range []struct {
		name string
		xy   []float64
		want stitch.Kind
	}{
		{"a line", run, stitch.Running},
		{"each stitch three times", bean, stitch.Bean},
		{"rows of four stitches", rows, stitch.Fill},
		{"a column 3 mm wide", zigzag(3, 0.2, 40), stitch.Satin},
		{"a narrow column", zigzag(1, 0.2, 40), stitch.Satin},
		{"an open zigzag", zigzag(3, 0.9, 40), stitch.Satin},
		{"a column too wide for one record", split, stitch.Satin},
		{"rows of long stitches", long, stitch.Fill},
		{"four small ones on a spot", []float64{0, 0, 0.7, 0.1, 0, 0.2, 0.7, 0, 0, 0}, stitch.Tie},
		{"one stitch only", []float64{0, 0}, stitch.Unknown},
	} {
		if got := most(places(c.xy...).Kinds(3)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// Rows are a fill where they hide the cloth, whatever leads from one to the next;
// lines are where they lie in a row wide enough, in curves too.
// A zigzag whose lines lie 1.5 to 2.5 mm apart is satin of low density, with each hole up to 0.2 mm off and at every
// angle; stairs and teeth 3.5 mm apart are none. Common practice, no published source.
func TestAnOpenZigzagIsSatin(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 3))
	share := func(xy []float64) (satin, n int) {
		for turn := range 24 {
			sin, cos := math.Sincos(float64(turn) * math.Pi / 12)
			moved := make([]float64, 0, len(xy))
			for i := 0; i+1 < len(xy); i += 2 {
				x, y := xy[i]+0.4*(rng.Float64()-0.5), xy[i+1]+0.4*(rng.Float64()-0.5)
				moved = append(moved, x*cos-y*sin, x*sin+y*cos)
			}
			for _, k := range places(moved...).Kinds(3) {
				if n++; k == stitch.Satin {
					satin++
				}
			}
		}
		return satin, n
	}
	for _, wide := range []float64{4, 7} {
		for _, apart := range []float64{1.5, 2, 2.5} {
			if apart > wide/1.8 { // its lines turn aside more than they go back
				continue
			}
			if satin, n := share(zigzag(wide, apart, 60)); 100*satin < 98*n {
				t.Errorf("%v mm wide, lines %v mm apart: %d of %d stitches are satin", wide, apart, satin, n)
			}
		}
	}
	var stairs []float64
	for i := range 60 {
		stairs = append(stairs, 3*float64((i+1)/2), 3*float64(i/2))
	}
	for name, xy := range map[string][]float64{"stairs": stairs, "teeth": zigzag(6, 3.5, 60)} {
		if satin, n := share(xy); 50*satin > n {
			t.Errorf("%s: %d of %d stitches are satin", name, satin, n)
		}
	}
}

func TestRowsFillWhereNoClothIsSeen(t *testing.T) {
	var narrow, square, sparse, spiral, outline []float64
	for i := range 30 {
		for k := range 3 { // two stitches a row, then a step of 0.4 mm
			x := 0.8 * float64(k)
			if i%2 == 1 {
				x = 1.6 - x
			}
			narrow = append(narrow, x, 0.4*float64(i))
		}
		for k := range 7 {
			y := float64(k)
			if i%2 == 1 {
				y = 6 - y
			}
			square = append(square, 0.7*float64(i), y)
			sparse = append(sparse, 0.8*(float64(i)+float64(k)/6), y) // 1.6 mm wide where they are widest
		}
	}
	around := func(xy []float64, r float64) []float64 {
		for a := 0.0; a < 2*math.Pi; a += 1 / r {
			xy = append(xy, r*math.Cos(a), r*math.Sin(a))
		}
		return xy
	}
	for r := 2.0; r < 9; r += 0.5 {
		spiral = around(spiral, r)
	}
	for r := 8.0; r < 9.2; r += 0.5 {
		outline = around(outline, r)
	}
	for _, c := range []struct {
		name string
		xy   []float64
		want stitch.Kind
	}{
		{"rows of two stitches with steps between", narrow, stitch.Fill},
		{"rows 0.7 mm apart", square, stitch.Fill},
		{"a zigzag of rows", sparse, stitch.Running},
		{"rings 0.5 mm apart", spiral, stitch.Fill},
		{"an outline of three rings", outline, stitch.Running},
	} {
		if got := most(places(c.xy...).Kinds(3)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// net is lines of 2.5 mm stitches that go through a square from edge to edge, in two
// directions, apart mm from each other.
func net(side, apart float64) (xy []float64) {
	for dir := range 2 {
		for i := 0; float64(i)*apart <= side; i++ {
			for k := range int(side/2.5) + 1 {
				u, v := 2.5*float64(k), float64(i)*apart
				if i%2 == 1 {
					u = side - u
				}
				if dir == 1 {
					u, v = v, u
				}
				xy = append(xy, u, v)
			}
		}
	}
	return xy
}

// A net fills though the cloth shows between its lines; lines farther apart do not,
// nor lines that nothing crosses. Under a fill it is underlay.
func TestANetIsAFill(t *testing.T) {
	for _, c := range []struct {
		apart float64
		want  stitch.Kind
	}{{1.5, stitch.Fill}, {2.3, stitch.Fill}, {3.5, stitch.Running}} {
		if got := most(places(net(30, c.apart)...).Kinds(3)); got != c.want {
			t.Errorf("meshes of %v mm: %s, want %s", c.apart, got, c.want)
		}
	}
	one := net(30, 2.3)
	if got := most(places(one[:len(one)/2]...).Kinds(3)); got != stitch.Running {
		t.Errorf("lines in one direction: %s, want running stitch", got)
	}
	var over []float64
	for i := range 76 {
		for k := range 9 {
			u := 4*float64(k) - 1
			if i%2 == 1 {
				u = 30 - u
			}
			over = append(over, u, 0.4*float64(i))
		}
	}
	both := places(append(net(30, 2.3), over...)...).Kinds(3)
	if got := most(both[:len(net(30, 2.3))/2]); got != stitch.UnderCover {
		t.Errorf("under a fill: %s", got)
	}
}

// A net of crosses, each of which is sewn by itself, is one too.
func TestANetOfCrossesIsAFill(t *testing.T) {
	var xy []float64
	for i := range 14 {
		for k := range 14 {
			x, y := 2*float64(i), 2*float64(k)
			xy = append(xy, x, y, x+2, y+2, x+1, y+1, x+2, y, x, y+2, x+1, y+1)
		}
	}
	if got := most(places(xy...).Kinds(3)); got != stitch.Fill {
		t.Errorf("crosses of 2 mm: %s", got)
	}
}

// Lines in curves hide what is under them where they lie as near to each other as
// rows of a usual fill, and not where the cloth shows between them.
func TestLinesInCurvesHideWhereTheyAreDense(t *testing.T) {
	for _, c := range []struct {
		apart float64
		want  stitch.Kind
	}{{0.4, stitch.UnderCover}, {0.7, stitch.Running}} {
		var xy []float64
		for i := range 8 {
			xy = append(xy, 2.2*float64(i)-7, 0.3)
		}
		under := len(xy) / 2
		for r := 1.5; r < 10; r += c.apart {
			for a := 0.0; a < 2*math.Pi; a += 1 / r {
				xy = append(xy, r*math.Cos(a), r*math.Sin(a))
			}
		}
		kinds := places(xy...).Kinds(3)
		if got := most(kinds[1:under]); got != c.want {
			t.Errorf("under rings %v mm apart: %s, want %s", c.apart, got, c.want)
		}
		if got := most(kinds[under+1:]); got != stitch.Fill {
			t.Errorf("rings %v mm apart: %s, want fill", c.apart, got)
		}
		rings := len(xy) / 2
		for i := range 100 {
			xy = append(xy, 0.2*float64(i)-10, 20*float64(i%2)-10)
		}
		if got := most(places(xy...).Kinds(3)[under+1 : rings]); got != stitch.Fill {
			t.Errorf("rings %v mm apart under a column: %s, want fill", c.apart, got)
		}
	}
}

// What goes to and fro on one line, or two steps forward and one back, or here and
// there, is no column.
func TestALineThatTurnsBackIsNoColumn(t *testing.T) {
	var onOne, backstitch, zigzagged []float64
	for i := range 12 {
		onOne = append(onOne, []float64{0, 3, 0.5, 2.6, 0.2, 3.2}[i%6], 0)
	}
	for i := range 12 { // 3 mm on, 1.6 mm back, a little beside
		at := 1.4 * float64(i)
		backstitch = append(backstitch, at, 0, at+3, 0.5)
	}
	for i := range 36 {
		zigzagged = append(zigzagged, 0.65*float64(i), 3*float64(i%2))
	}
	for _, c := range []struct {
		name   string
		xy     []float64
		column bool
	}{
		{"to and fro on one line", onOne, false},
		{"two forward and one back", backstitch, false},
		{"four lines of an open zigzag", zigzagged[:10], false},
		{"an open zigzag", zigzagged, true},
	} {
		if got := most(places(c.xy...).Kinds(3)); (got == stitch.Satin) != c.column {
			t.Errorf("%s: %s", c.name, got)
		}
	}
	if got := most(places(backstitch...).Kinds(3)); got != stitch.Running {
		t.Errorf("two forward and one back: %s, want running stitch", got)
	}
}

// A line may turn to and fro a few times by chance: so narrow and so few are no column.
func TestAFewNarrowLinesAreNoColumn(t *testing.T) {
	for _, c := range []struct {
		wide  float64
		lines int
		want  stitch.Kind
	}{{0.6, 7, stitch.Running}, {0.6, 15, stitch.Satin}, {1.2, 7, stitch.Satin}} {
		var xy []float64
		for i := range 6 {
			xy = append(xy, 2*float64(i)-12, 0)
		}
		from := len(xy) / 2
		xy = append(xy, zigzag(c.wide, 0.25, c.lines)...)
		to := len(xy) / 2
		for i := range 6 {
			xy = append(xy, 6+2*float64(i), 0)
		}
		if got := most(places(xy...).Kinds(3)[from+1 : to]); got != c.want {
			t.Errorf("%d lines %v mm wide: %s, want %s", c.lines, c.wide, got, c.want)
		}
	}
}

// Stems that are sewn out and back from one place are lines: only every second gap
// between rows is one, and these are wider than a fill's.
func TestStemsSewnOutAndBackAreNoFill(t *testing.T) {
	var xy []float64
	for i := range 6 {
		for k := range 9 {
			at := 3 * float64(k)
			xy = append(xy, at*0.06*float64(i), at)
		}
		for k := 7; k > 0; k-- {
			at := 3 * float64(k)
			xy = append(xy, at*0.06*float64(i), at)
		}
	}
	if got := most(places(xy...).Kinds(3)); got != stitch.Running {
		t.Errorf("stems: %s, want running stitch", got)
	}
}

// At the end of a line that is sewn there, back and there again, a stitch may be sewn
// four times.
func TestTripleStitchThatTurnsIsOne(t *testing.T) {
	var xy []float64
	for i := range 4 { // out along a line, three times each, but the last four times, and back
		a, b := 2.5*float64(i), 2.5*float64(i+1)
		xy = append(xy, a, 0, b, 0, a, 0)
	}
	xy = append(xy, 10, 0, 12, 0.5, 10, 0, 12, 0.5, 10, 0)
	for i := 3; i > 0; i-- {
		a, b := 2.5*float64(i), 2.5*float64(i+1)
		xy = append(xy, a, 0, b, 0, a, 0)
	}
	for i, k := range places(xy...).Kinds(3) {
		if i > 0 && k != stitch.Bean {
			t.Errorf("stitch %d at %v: %s", i, xy[2*i:2*i+2], k)
		}
	}
}

// A short thread that goes on is no tie.
func TestAShortLineIsNoTie(t *testing.T) {
	for _, c := range []struct {
		xy   []float64
		want stitch.Kind
	}{
		{[]float64{0, 0, 0.6, 0, 1, 0.2, 1.3, 0.7}, stitch.Running},
		{[]float64{0, 0, 0.7, 0, 0, 0.1, 0.7, 0}, stitch.Tie},
	} {
		if got := most(places(c.xy...).Kinds(3)); got != c.want {
			t.Errorf("%v: %s, want %s", c.xy, got, c.want)
		}
	}
}

// Tiny rows have no tie, whatever their first stitches look like.
func TestATextureHasNoTie(t *testing.T) {
	var xy []float64
	for i := range 30 {
		for k := range 4 {
			v := 0.5 * float64(k)
			if i%2 == 1 {
				v = 1.5 - v
			}
			xy = append(xy, 0.4*float64(i), v)
		}
	}
	for i, k := range places(xy...).Kinds(3) {
		if k == stitch.Tie {
			t.Fatalf("stitch %d of %d is a tie", i, len(xy)/2)
		}
	}
}

// A row that is a thread of its own has nothing but its neighbours to be told by.
func TestRowsOfAThreadEachAreAFill(t *testing.T) {
	d := &stitch.Design{}
	for range 20 {
		for range 2 {
			d.Records = append(d.Records, stitch.Record{DY: 14, Op: stitch.Sew}, stitch.Record{DY: -14, Op: stitch.Sew})
		}
		d.Records = append(d.Records, stitch.Record{DX: 4, Op: stitch.Trim})
	}
	if got := most(d.Kinds(3)); got != stitch.Fill {
		t.Errorf("rows side by side: %s, want a fill", got)
	}
	for i := range d.Records {
		d.Records[i].DX *= 10
	}
	if got := most(d.Kinds(3)); got == stitch.Fill {
		t.Error("4 mm apart they are no fill")
	}
}

// A short zigzag that the column after it hides is underlay; seen, it is satin.
func TestAZigzagUnderAColumnIsUnderCover(t *testing.T) {
	under := zigzag(3, 0.35, 12)
	for i := 1; i < len(under); i += 2 {
		under[i] += 0.5
	}
	n := len(under) / 2
	if k := most(places(under...).Kinds(3)); k != stitch.Satin {
		t.Errorf("alone it is %s, want satin", k)
	}
	var over []float64
	for i := range 20 { // lines along the zigzag, across its own
		over = append(over, 6*float64(i%2)-1, 0.2*float64(i))
	}
	if k := most(places(append(under, over...)...).Kinds(3)[:n]); k != stitch.UnderCover {
		t.Errorf("under a column it is %s", k)
	}
}

// Underlay is running stitch until something lies on it.
func TestRunningStitchUnderAColumnIsUnderCover(t *testing.T) {
	var under []float64
	for i := range 8 {
		under = append(under, 1+2*float64(i), 2)
	}
	alone := places(under...).Kinds(3)
	both := places(append(under, zigzag(4, 0.2, 90)...)...).Kinds(3)
	for i := 1; i < 7; i++ {
		if alone[i] != stitch.Running || both[i] != stitch.UnderCover {
			t.Errorf("stitch %d: alone %s, under a column %s", i, alone[i], both[i])
		}
	}
	before := places(append(zigzag(4, 0.2, 90), under...)...).Kinds(3)
	if k := before[len(before)-3]; k != stitch.Running {
		t.Errorf("on top of the column it is %s", k)
	}
}

// What is hidden is so by two thirds: a stitch of 11.2 mm that later columns leave to be seen to 45 % is none of it, one
// to 20 % is. A zigzag is underlay up to 16 lines; one of 20 or more is a column that another lies on. Common practice,
// no published source.
func TestHowMuchIsHiddenUnderAColumn(t *testing.T) {
	for share, want := range map[float64]stitch.Kind{0.55: stitch.Running, 0.8: stitch.UnderCover} {
		var xy []float64
		for i := range 8 {
			xy = append(xy, 11.2*float64(i), 0)
		}
		d := places(xy...)
		at := stitch.Point{X: 784}
		for i := range 7 { // a column across each stitch, from its beginning
			x := 112 * i
			d.Records = append(d.Records, stitch.Record{Op: stitch.Trim})
			for x := x; x < 112*i+int(112*share); x += 2 {
				y := 15 - 30*(x/2%2)
				for at.X-x > 120 { // jumps go there
					d.Records = append(d.Records, stitch.Record{DX: -120, Op: stitch.Jump})
					at.X -= 120
				}
				d.Records = append(d.Records, stitch.Record{DX: int16(x - at.X), DY: int16(y - at.Y), Op: stitch.Sew})
				at = stitch.Point{X: x, Y: y}
			}
		}
		if k := most(d.Kinds(3)[1:8]); k != want {
			t.Errorf("hidden to %v it is %s, want %s", share, k, want)
		}
	}
	for lines, want := range map[int]stitch.Kind{14: stitch.UnderCover, 24: stitch.Satin} {
		under := zigzag(3, 0.35, lines)
		for i := 1; i < len(under); i += 2 {
			under[i] += 0.5
		}
		long := 0.35 * float64(lines)
		for i := range 20 { // lines along the zigzag, across its own
			under = append(under, (long+2)*float64(i%2)-1, 0.2*float64(i))
		}
		if k := most(places(under...).Kinds(3)[:lines]); k != want {
			t.Errorf("a zigzag of %d lines under a column is %s, want %s", lines, k, want)
		}
	}
}

// Every revolution has a kind and nothing else has one, whatever the records.
func TestEveryRevolutionHasAKind(t *testing.T) {
	for _, s := range []string{"", "s", "ss", "j", "sjs", "sjjjs", "tjs", "ssjjssosSssjj", "jjjcssc", "sjj", "jSjSjSjSjS"} {
		d := &stitch.Design{Records: records(s)}
		kinds := d.Kinds(3)
		want := make([]bool, len(kinds))
		for e := range d.Events(3) {
			for i := e.From; e.Kind == stitch.Run && i < e.To; i++ {
				want[i] = true
			}
		}
		n := 0
		for i, k := range kinds {
			if (k != stitch.NotSewn) != want[i] || int(k) >= stitch.NumKinds {
				t.Errorf("%s: record %d is %s", s, i, k)
			}
			if want[i] {
				n++
			}
		}
		for st := range stitch.Stretches(kinds) {
			n -= st.To - st.From
		}
		if n != 0 {
			t.Errorf("%s: %d revolutions are in no stretch", s, n)
		}
	}
}

// Extremes of the format neither panic nor take a grid beyond its bound.
func FuzzKinds(f *testing.F) {
	f.Add([]byte{1, 2, 0, 255, 3, 0, 9, 9, 1, 128, 127, 3}, int16(1))
	f.Fuzz(func(t *testing.T, b []byte, scale int16) {
		d := &stitch.Design{}
		for i := 0; i+2 < len(b); i += 3 {
			d.Records = append(d.Records, stitch.Record{DX: int16(int8(b[i])) * scale, DY: int16(int8(b[i+1])) * scale,
				Op: stitch.Op(b[i+2] % 6)})
		}
		for _, k := range d.Kinds(3) {
			if int(k) >= stitch.NumKinds {
				t.Fatalf("kind %d", k)
			}
		}
	})
}

// A column that ends in lock stitches to and fro is satin up to them: its last lines and
// the lock are no triple stitch.
func TestAColumnBeforeATieIsSatin(t *testing.T) {
	for lines := 56; lines < 60; lines++ {
		for _, turned := range []float64{0, 27, 90, 200} {
			xy := zigzag(3, 0.2, lines)
			x := xy[len(xy)-2] + 0.2
			for _, to := range []float64{0, 0.7, 0, 0.7, 0} {
				xy = append(xy, x+to, 0)
			}
			sin, cos := math.Sincos(turned * math.Pi / 180)
			for i := 0; i < len(xy); i += 2 {
				xy[i], xy[i+1] = xy[i]*cos-xy[i+1]*sin, xy[i]*sin+xy[i+1]*cos
			}
			kinds := places(xy...).Kinds(3)
			wrong := 0
			for i, k := range kinds {
				if want := stitch.Satin; k != want && i < lines {
					wrong++
				}
				if k == stitch.Bean {
					t.Errorf("%d lines turned by %v: stitch %d is %s", lines, turned, i, k)
				}
			}
			if wrong > 1 {
				t.Errorf("%d lines turned by %v: %d are no satin", lines, turned, wrong)
			}
		}
	}
}

// Where one kind ends and the next begins, drawn: a short zigzag is seen as lines from 0.6 mm
// between them on; rows of which half have two stitches are a column's where they lie as dense as
// satin, and of which a third have, everywhere.
func TestWhereOneKindEndsAndTheNextBegins(t *testing.T) {
	rows := func(apart float64, ofFive int) (xy []float64) { // 6 mm, so many of five in two stitches
		for i := range 60 {
			if i%5 < ofFive {
				xy = append(xy, 3+float64(i%3), apart*float64(i))
			}
			xy = append(xy, 6*float64((i+1)%2), apart*float64(i))
		}
		return xy
	}
	for _, c := range []struct {
		name string
		xy   []float64
		want stitch.Kind
	}{
		{"six lines 0.55 mm apart", zigzag(3, 0.55, 6), stitch.Satin},
		{"six lines 0.65 mm apart", zigzag(3, 0.65, 6), stitch.Running},
		{"three rows in five of two stitches, 0.2 mm apart", rows(0.2, 3), stitch.Satin},
		{"the same 0.3 mm apart", rows(0.3, 3), stitch.Fill},
		{"two rows in five of two stitches, 0.4 mm apart", rows(0.4, 2), stitch.Satin},
		{"three rows in five of two stitches, 0.4 mm apart", rows(0.4, 3), stitch.Fill},
	} {
		if got := most(places(c.xy...).Kinds(3)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}
