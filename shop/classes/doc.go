// Package classes keeps the classes that a shop made of learned sheets, and the
// learned sheets that other shops sent for them.
package classes
