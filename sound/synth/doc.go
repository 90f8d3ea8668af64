// Package synth makes recordings of machines that never were: what package
// sound is tested and studied with. It shares no code with package sound.
//
// Perform sews a design on a machine's sheet and says when each stitch is
// struck and what happens between; Record gives the samples that a microphone
// beside the machine takes down, in a room, with what else makes noise there.
package synth
