package ask

import "needlepace/words"

// PublicTable is ClassTable without classes of which fewer than three entries came: what
// one shop sent is not shown by itself.
func (a *OpenCallAnswer) PublicTable() *Table { return a.classTable(publicFrom) }

// publicFrom is from how many entries on a class is shown to everybody.
const publicFrom = 3

func (a *OpenCallAnswer) classTable(least int) *Table {
	t := table("classes", words.Say("call.classes"),
		column("class", "call.class"), number("entries", "call.entries"), number("set_speed", "trial.speed"),
		number("seconds", "trial.measured"), number("least", "call.least"), number("most", "call.most"),
		number("predicted_seconds", "trial.predicted"), number("predicted_low", "trial.low"), number("predicted_high", "trial.high"),
		number("measured_over_predicted", "trial.off"), number("off_low", "call.off-low"), number("off_high", "call.off-high"),
		number("spread", "call.spread"))
	for _, c := range a.Classes {
		if c.Entries < least {
			continue
		}
		var low, high, spread words.Value
		if c.Entries > 1 {
			low, high, spread = words.Fixed(c.OffLow, 3), words.Fixed(c.OffHigh, 3), words.Share(c.Spread)
		}
		t.add(classSays(c.Class), words.Whole(c.Entries), words.PerMinute(c.Speed), words.Seconds(c.Seconds), words.Seconds(c.Least), words.Seconds(c.Most),
			words.Seconds(c.Predicted), words.Seconds(c.PredictedLow), words.Seconds(c.PredictedHigh), words.Fixed(c.Off, 3), low, high, spread)
	}
	return t
}
