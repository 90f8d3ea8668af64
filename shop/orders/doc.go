// Package orders keeps orders, their history and what the floor reported of them. Every
// change has a version and a sentence in the history.
package orders
