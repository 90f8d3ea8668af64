// Package floor says what a shift really yields: run time is not yet output.
// Heads that stop together, thread breaks, bobbins, hooping, loading and a few
// operators on many machines decide what leaves the shop.
//
// The main verb is Simulate: a shop's shift by discrete-event simulation,
// repeated until its interval is as narrow as asked, the same for the same
// seed on any number of cores. Tests check it against the closed formulas of
// machine interference (queue_test.go). Beside it stand the time ledger's KPIs
// by ISO 22400-2 (oee.go) and what one more head, operator or hoop set would
// give (improve.go).
//
// Times are seconds, lengths metres, rates per 1,000 stitches of one head.
package floor
