package ask

import (
	"needlepace/words"
)

// RunsTable is each run against what was predicted before it, newest first.
func (a *ScoreAnswer) RunsTable() *Table {
	t := table("score", words.Say("score.runs"),
		column("date", "score.date"),
		column("design", "score.design"),
		number("set_speed", "score.speed"),
		number("predicted", "score.predicted"),
		number("low", "score.low"),
		number("high", "score.high"),
		number("read", "score.read"),
		number("off_percent", "score.off"),
		column("inside", "score.is-inside"),
		number("version", "score.version"),
	)
	for i := range a.Runs {
		r := &a.Runs[len(a.Runs)-1-i]
		in := coded{words.Say("score.no"), "no"}
		switch {
		case r.Apart:
			in = coded{words.Say("score.is-apart"), "apart"}
		case r.Inside:
			in = coded{words.Say("score.yes"), "yes"}
		}
		t.add(r.Date, words.Name(r.Design), words.PerMinute(r.SetSpeed), words.Seconds(r.Predicted),
			words.Clock(r.Low), words.Clock(r.High), words.Seconds(r.Read), percentOff(r.Off), in,
			words.Whole(r.Version))
	}
	return t
}

func percentOff(v float64) words.Value {
	return coded{words.Signed{Numeric: words.Share(v)}, words.Fixed(100*v, 3).Raw()}
}

// SheetsTable is the score by the sheet that predicted.
func (a *ScoreAnswer) SheetsTable() *Table {
	t := table("score-sheets", words.Say("score.sheets"),
		number("version", "score.version"),
		column("made", "score.made"),
		number("runs", "score.many"),
		number("bias_percent", "score.bias"),
		number("bias_low_percent", "score.low").inFile(),
		number("bias_high_percent", "score.high").inFile(),
		column("bias_range", "score.bias-range"),
		number("inside", "score.count-inside"),
	)
	for _, s := range a.Sheets {
		var between words.Value
		if s.Runs > 1 {
			between = words.Say("score.between", words.Args{"low": words.Signed{Numeric: words.Share(s.BiasLow)},
				"high": words.Signed{Numeric: words.Share(s.BiasHigh)}})
		}
		t.add(words.Whole(s.Version), s.Made, words.Whole(s.Runs), percentOff(s.Bias), words.Fixed(100*s.BiasLow, 3),
			words.Fixed(100*s.BiasHigh, 3), between,
			coded{words.Say("score.of", words.Args{"inside": words.Whole(s.Inside), "runs": words.Whole(s.Runs)}),
				words.Whole(s.Inside).Raw()})
	}
	return t
}
