// Package sequence finds a cheapest order of things in which some must come
// before others: the sequential ordering problem (a Hamiltonian path with
// precedence, costs may be asymmetric). The audit uses it for the objects of
// a design, whose threads keep their order wherever they touch.
//
// Small problems are solved to proven optimality by dynamic programming over
// the order ideals of the precedence, bounded by the assignment problem and by
// arborescences with Lagrangian multipliers (Held and Karp 1970 in its
// directed form). Large ones get a local search that keeps every precedence
// (the path-preserving 3-exchange of Gambardella and Dorigo, "An Ant Colony
// System Hybridized with a New Local Search for the Sequential Ordering
// Problem", INFORMS J. Computing 12(3), 2000), restarted from small shakes
// and now and then from the beginning, and the same bound, so that the gap is
// known.
//
// The package reads no clock: a search ends by its context, by a number of
// rounds, or by meeting the bound. With the same problem, seed and rounds the
// answer is the same.
package sequence
