// Package words says figures, days and sentences to people: one formatter, one
// rounding and one unit for a figure, wherever it is shown. It imports nothing
// of ours.
//
// A figure is a [Value]: words.Seconds(1125), words.Count(3, "break"),
// words.Chance(0.93), words.Money{…}, a [Day]. Its Text(w) is for people, in
// the language, zone and units of the [Writer] w ("18 min 45 s"); its Raw() is
// for files ("1125"). What breaks text into lines gives it to [Firm] first, once,
// where it writes the whole, so that a number stays with its unit. The zero Writer is English, UTC, millimetres, 24 hours.
//
// A sentence is a [Message], which is a Value too: a key and arguments,
//
//	words.Say("clock.usual-sum", words.Args{"sum": words.Seconds(904)})
//
// and en.toml has its words under [clock] usual-sum = "The usual sum says {sum}.".
// Nouns that are counted stand there under [count]. Another language is one
// more file beside it. Keys and nouns are written out where they are used: a
// test looks for each of them in en.toml, and for each argument in its sentence.
package words
