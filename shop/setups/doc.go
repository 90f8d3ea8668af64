// Package setups keeps shifts, mixes and the workshop. What they name (machines,
// designs) is kept by its ID, whatever it, or another, is called later.
package setups
