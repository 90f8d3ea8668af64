// Package trial is machines side by side: the same designs, cloth and thread, sewn some
// times on each, and what that says.
//
// It fixes the order of the runs before anyone sews (randomised blocks, the seed
// printed), says how many repeats tell two machines apart, reads the file of a trial
// and what the places send back, finds what is wrong with it, and ranks the machines
// by a mixed model of designs and machines (package mixed). Grades of the sew-out and
// how far two graders agree are here too. It measures in seconds and does no I/O.
package trial
