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
	{TooLarge, Hurts, findTooLarge, nil},
	{OffCentre, OnlyTime, findOffCentre, nil},
	{DenseSpot, Shows, findDense, sayDense},
	{SameHole, Shows, findSameHole, saySameHole},
	{MissingLock, Spoils, findLocks, nil},
	{ShortStitches, Shows, findShort, sayShort},
	{SnagStitches, Shows, findSnags, saySnag},
	{DraggedThread, Shows, findDrags, nil},
	{TooManyColours, OnlyTime, findTooMany, nil},
	{ThreadReturns, OnlyTime, findReturns, nil},
	{NoChange, OnlyTime, findNoChange, nil},
	{DoubleCut, OnlyTime, findDoubleCut, nil},
	{NeedlessTrim, OnlyTime, findTrims, nil},
	{Order, OnlyTime, findOrder, nil},
	{LongStitches, OnlyTime, findLong, sayLong},
	{FewStitches, OnlyTime, findFew, nil},
}

// all is what the finder finds, those that touch made one.
func (f *finder) all(v *survey) []Finding {
	found := f.find(v)
	if f.say != nil {
		found = gather(found)
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
