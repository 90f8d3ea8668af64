// Package book is the order book's values and rules: orders with their lines,
// states and holds, what the floor reports of them and what the reports say
// about a machine, and the workshop: its hours, days off, machines' keys and
// down times, and how a sewn piece becomes a day that may be promised.
//
// It is pure: no I/O, no store, no time of day. Questions (plan, quote, run
// sheet) are answered from these values; package shop keeps them.
package book
