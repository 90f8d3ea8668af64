package ask

import (
	"context"
	"testing"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
)

// A straight line at one length teaches little, the test piece much, and what
// was learned already is not taught again; each is said before it is timed.
func TestWhatATimingTeachesIsSaidBefore(t *testing.T) {
	sheet, _ := machine.Class("compact-8")
	line := &stitch.Design{}
	for i := range 8000 {
		dx := int16(20)
		if i/40%2 == 1 {
			dx = -dx
		}
		line.Records = append(line.Records, stitch.Record{DX: dx, Op: stitch.Sew})
	}
	piece, err := TestPiece(t.Context(), Given{On: sheet}, TestPieceQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	fit, err := learn.Fit(t.Context(), sheet, piece.Piece.Observations("piece.dst"), learn.Options{Draws: -1})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what   string
		design *stitch.Design
		sheet  *machine.Sheet
		speed  float64
		little bool
		key    string
	}{
		{"a line", line, sheet, 0, true, "teach.at-set-speed"},
		{"a test piece", piece.Piece.Design, sheet, 0, false, "teach.much"},
		{"a line on a machine that was learned", line, fit.Sheet, 0, true, "teach.known"},
		{"a test piece so slowly that nothing slows it", piece.Piece.Design, sheet, 120, false, "teach.much"},
	} {
		a, err := Clock(context.Background(), Given{Stitches: NewDesign(c.design, "x.dst", ""), On: c.sheet},
			ClockQuestion{Job: Job{Speed: c.speed}, Why: true})
		if err != nil {
			t.Fatal(err)
		}
		if a.Teaches.Little != c.little || a.Teaches.Verdict[0].Key != c.key {
			t.Errorf("%s: %.2f things, %s", c.what, a.Teaches.Things, a.Teaches.Verdict.Text(nil))
		}
	}
	full, slow := things(t, piece, sheet, 0), things(t, piece, sheet, 120)
	if slow > full-1 {
		t.Errorf("at 120/min a test piece tells %.2f things, at full speed %.2f", slow, full)
	}
	exact := sheet.Clone()
	exact.SD = nil
	a, err := Clock(context.Background(), Given{Stitches: NewDesign(line, "x.dst", ""), On: exact}, ClockQuestion{Why: true})
	if err != nil || a.Teaches != nil {
		t.Errorf("a sheet without spreads: %v, %v", a.Teaches, err)
	}
}

func things(t *testing.T, p *TestPieceAnswer, s *machine.Sheet, speed float64) float64 {
	t.Helper()
	a, err := Clock(t.Context(), Given{Stitches: NewDesign(p.Piece.Design, "x.dst", ""), On: s}, ClockQuestion{Job: Job{Speed: speed}, Why: true})
	if err != nil {
		t.Fatal(err)
	}
	return a.Teaches.Things
}

// Nobody times 20,000 blocks by hand, and what each of them would teach beside each other one is not asked: of
// such a design the whole is timed, which tells less than its 900 blocks would.
func TestADesignOfTooManyBlocksIsTimedAsAWhole(t *testing.T) {
	sheet, _ := machine.Class("compact-8")
	blocks := func(n int) (things float64) {
		d := &stitch.Design{}
		for b := range n {
			if b > 0 {
				d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
			}
			for i := range 3 + b%4 {
				d.Records = append(d.Records, stitch.Record{DX: int16((i%2*2 - 1) * (10 + b%50)), Op: stitch.Sew})
			}
		}
		l, err := learn.Teach(t.Context(), sheet, d, sheet.MaxSpeed)
		if err != nil {
			t.Fatal(err)
		}
		return l.Things
	}
	few, many := blocks(900), blocks(20_000)
	if many > few/2 {
		t.Errorf("20,000 blocks should tell %.2f things, 900 %.2f", many, few)
	}
}
