package audit

// A finder looks for one kind of finding. A new one is a new file and a line
// here.
type finder struct {
	kind  Kind
	title string // in the plural, for headings
	find  func(*survey) []Finding
}

var finders = []finder{
	{ThreadReturns, "colour stops for a thread that comes back", findReturns},
	{NoChange, "colour stops without a change", findNoChange},
	{DoubleCut, "double cuts", findDoubleCut},
	{NeedlessTrim, "needless trims", findTrims},
	{Order, "order of the objects", findOrder},
	{LongStitches, "long stitches that slow this machine", findLong},
	{SnagStitches, "stitches long enough to snag", findSnags},
	{ShortStitches, "stretches of tiny stitches", findShort},
	{SameHole, "holes struck again and again", findSameHole},
	{DenseSpot, "dense spots", findDense},
	{MissingLock, "cuts without lock stitches", findLocks},
	{FewStitches, "objects of a few stitches", findFew},
	{DraggedThread, "threads left lying", findDrags},
	{OffCentre, "start or end off the middle", findOffCentre},
	{TooLarge, "larger than the hoop", findTooLarge},
	{TooManyColours, "more colours than needles", findTooMany},
}

// Title is the kind in words, in the plural.
func (k Kind) Title() string {
	for _, f := range finders {
		if f.kind == k {
			return f.title
		}
	}
	return string(k)
}
