package audit

// A finder looks for one kind of finding. A new one is a new file and a line
// here.
type finder struct {
	kind  Kind
	title string // in the plural, for headings
	about string // for lists: what it looks for
	find  func(*survey) []Finding
}

var finders = []finder{
	{ThreadReturns, "colour stops for a thread that comes back", "colour stops that could go: the thread comes back, and nothing between lies over or under it", findReturns},
	{NoChange, "colour stops without a change", "colour stops with no thread change, or with nothing sewn after them", findNoChange},
	{DoubleCut, "double cuts", "a trim right before a colour stop, which cuts itself", findDoubleCut},
	{NeedlessTrim, "needless trims", "trims where the way to the next object is short or is covered later", findTrims},
	{Order, "order of the objects", "travel that another order of the objects saves", findOrder},
	{LongStitches, "long stitches that slow this machine", "stitches long enough to slow this machine", findLong},
	{SnagStitches, "stitches long enough to snag", "stitches so long that they snag", findSnags},
	{ShortStitches, "stretches of tiny stitches", "stitches so short that they only cost time and break thread", findShort},
	{SameHole, "holes struck again and again", "the needle striking one hole again and again", findSameHole},
	{DenseSpot, "dense spots", "more penetrations in a square millimetre than fabric bears", findDense},
	{MissingLock, "cuts without lock stitches", "cuts without lock stitches before them", findLocks},
	{FewStitches, "objects of a few stitches", "objects of a few stitches between two cuts", findFew},
	{DraggedThread, "threads left lying", "jumps with the thread uncut", findDrags},
	{OffCentre, "start or end off the middle", "a start or an end far from the middle", findOffCentre},
	{TooLarge, "larger than the hoop", "a design larger than the hoop", findTooLarge},
	{TooManyColours, "more colours than needles", "more colours than needles", findTooMany},
}

// KindInfo describes a kind of finding for headings and lists.
type KindInfo struct {
	Kind  Kind
	Title string // in the plural: "needless trims"
	About string // what is looked for
}

// Kinds lists the kinds of finding.
func Kinds() []KindInfo {
	var all []KindInfo
	for _, f := range finders {
		all = append(all, KindInfo{f.kind, f.title, f.about})
	}
	return all
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
