// Package money turns seconds and metres into money: what a piece, 1,000
// stitches and an hour cost, what the price must be for a wanted margin, what
// a machine is worth against another one, and where they tie.
//
// Money is decimal throughout (shopspring/decimal), never floating point.
// Quantities that are measured or simulated (seconds, metres, chances) come in
// as floats and become decimals once, at Measured. Interest is per period, one
// period a year unless said otherwise; cash flows fall at the ends of periods.
package money
