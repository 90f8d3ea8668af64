// Package plan puts orders on machines over time: which machine makes which
// lot, in what order, when, and when a customer may be promised the goods.
//
// The problem is that of unrelated parallel machines with sequence-dependent
// set-ups, release and due dates and machine calendars (Pinedo, Scheduling:
// Theory, Algorithms, and Systems). A job is a quantity of one design; a lot
// is the part of a job that one machine makes in one go. The goal is weighted
// lateness first, then make-span, set-ups and machine time, as one weighted
// sum (Weights). Work is assigned by that sum alone: cones that need not be
// changed count as the seconds they save, and as nothing else.
//
// Solve builds a start with a priority index of the ATCS kind (Lee, Bhaskaran,
// Pinedo 1997) and improves it by simulated annealing over insertions,
// exchanges, block moves and tail exchanges, each move priced exactly from the
// place where it begins. A Lagrangian relaxation of the machines' capacity
// gives a lower bound on the weighted lateness. The same seed and the same
// number of moves give the same plan.
//
// Times are seconds after Problem.Origin; the package reads no clock.
package plan
