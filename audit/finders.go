package audit

// A finder looks for one kind of finding. A new one is a new file, a line here
// and its title under finding.title in package words.
type finder struct {
	kind     Kind
	severity Severity // unless the finding says graver
	find     func(*survey) []Finding
	// say puts findings into sentences after those that touch were made one; nil
	// where each stands for itself.
	say func(*survey, *Finding)
}

var finders = []finder{
	{BeyondField, Hurts, findBeyond, nil},
	{TooLarge, Hurts, findTooLarge, nil},
	{TooTight, Hurts, findTight, nil},
	{OffCentre, OnlyTime, findOffCentre, nil},
	{DenseSpot, Shows, findDense, sayDense},
	{SameHole, Shows, findSameHole, saySameHole},
	{MissingLock, Spoils, findLocks, nil},
	{MissingTieIn, Spoils, findTieIns, nil},
	{StackedLayers, Shows, findLayers, sayLayers},
	{InnerCurve, Shows, findInner, sayInner},
	{ForeignHoles, Shows, findForeign, sayForeign},
	{NoUnderlay, Shows, findUnderlay, sayUnderlay},
	{PullGap, Shows, findPull, sayPull},
	{ShortStitches, Shows, findShort, sayShort},
	{SnagStitches, Shows, findSnags, saySnag},
	{DraggedThread, Shows, findDrags, nil},
	{TooManyColours, OnlyTime, findTooMany, nil},
	{ThreadReturns, OnlyTime, findReturns, nil},
	{NoChange, OnlyTime, findNoChange, nil},
	{IdleStop, OnlyTime, findIdle, nil},
	{BackAndForth, OnlyTime, findWalks, nil},
	{DoubleCut, OnlyTime, findDoubleCut, nil},
	{NeedlessTrim, OnlyTime, findTrims, nil},
	{Order, OnlyTime, findOrder, nil},
	{LongStitches, OnlyTime, findLong, sayLong},
	{FewStitches, OnlyTime, findFew, nil},
}

// mayHurt are the kinds of which a finding may be one that Hurts.
var mayHurt = map[Kind]bool{BeyondField: true, TooLarge: true, TooTight: true, OffCentre: true, DenseSpot: true, SameHole: true,
	StackedLayers: true}

// all is what the finder finds, those that touch made one.
func (f *finder) all(v *survey) []Finding {
	found := f.find(v)
	if f.say != nil {
		found = gather(found, v.lim.Touch)
	}
	for i := range found {
		x := &found[i]
		x.Kind, x.Severity, x.Alone = f.kind, max(f.severity, x.Severity), x.Seconds
		if f.say != nil {
			f.say(v, x)
		}
	}
	return found
}
