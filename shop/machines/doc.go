// Package machines keeps the shop's machines and the history of their sheets. Nothing is
// taken out of a history: an undo is a new version.
package machines
