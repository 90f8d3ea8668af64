package digitize

import "testing"

func TestSatinLineSpacingIsMeasuredThereAndBack(t *testing.T) {
	// E. Campbell, Printwear, July 2019, p. 24: line spacing is measured from the first line to the third, so that adjacent lines of a 0.40 mm design lie 0.20 mm apart.
	var p Piece
	a, b := Rails(Path(0, 0, 40, 0), 4)
	p.Satin(a, b, 0.40)
	pts := path(p.Design())
	near(t, "lines in 40 mm", float64(len(pts)), 40/0.20, 2)
	for i := 2; i+1 < len(pts); i++ {
		near(t, "first line to third", pts[i].X-pts[i-2].X, 0.40, 0.051)
	}
}

func TestOneFillLayerHas62PenetrationsToTheSquareCentimetre(t *testing.T) {
	// Arithmetic from the trade's standard fill (E. Levy, Printwear, December 2016, p. 30: line spacing 0.40 mm; Printwear, February 2016, p. 63: fill stitch 4 mm): 1/(0.4 mm · 4 mm) = 62.5 /cm². Row ends add a little.
	var p Piece
	p.Fill(Area(Rect(0, 0, 100, 100)), 0, 0.40, 4)
	near(t, "penetrations/cm²", float64(p.Stitches())/100, 62.5, 2.5)
}

func TestQuarterInchLetterIsAboutAHundredStitches(t *testing.T) {
	// petiterepublic.com, estimating stitch counts: a letter of 1/4 in has about 100 stitches. A coarse planning figure: the mean letter must lie within a third of it.
	n := 0
	text := "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	var p Piece
	p.Lock()
	p.Text(text, Lettering{Height: 6.35, Spacing: 0.40})
	n = p.Stitches() / len(text)
	near(t, "stitches a letter", float64(n), 100, 33)
}
