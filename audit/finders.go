package audit

// A finder looks for one kind of finding. A new one is a new file and a line
// here.
type finder struct {
	kind  Kind
	about string // for lists: what it looks for
	find  func(*survey) []Finding
}

var finders = []finder{
	{ThreadReturns, "colour stops that could go: the thread comes back, and nothing between lies over or under it", findReturns},
	{NoChange, "colour stops with no thread change, or with nothing sewn after them", findNoChange},
	{DoubleCut, "a trim right before a colour stop, which cuts itself", findDoubleCut},
	{NeedlessTrim, "trims where the way to the next object is short or is covered later", findTrims},
	{Order, "travel that another order of the objects saves", findOrder},
	{LongStitches, "stitches long enough to slow this machine", findLong},
	{SnagStitches, "stitches so long that they snag", findSnags},
	{ShortStitches, "stitches so short that they only cost time and break thread", findShort},
	{SameHole, "the needle striking one hole again and again", findSameHole},
	{DenseSpot, "more penetrations in a square millimetre than fabric bears", findDense},
	{MissingLock, "cuts without lock stitches before them", findLocks},
	{FewStitches, "objects of a few stitches between two cuts", findFew},
	{DraggedThread, "jumps with the thread uncut", findDrags},
	{OffCentre, "a start or an end far from the middle", findOffCentre},
	{TooLarge, "a design larger than the hoop", findTooLarge},
	{TooManyColours, "more colours than needles", findTooMany},
}

// Kinds lists the kinds of finding with what each looks for.
func Kinds() (kinds []Kind, about []string) {
	for _, f := range finders {
		kinds = append(kinds, f.kind)
		about = append(about, f.about)
	}
	return kinds, about
}
