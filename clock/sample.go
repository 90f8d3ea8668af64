package clock

import (
	"math/rand/v2"

	"needlepace/stitch"
)

// A sample of a long design is made of pieces of about pieceLength records, up to sampleLength records in all, or
// gatheredLength where they are only gathered by length. Of 30 mixes of real designs of 70,000 to 650,000 records on each class
// the ends of the interval lay within 0.5 % of its width in the mean of those by the whole design, within 5.3 % at the
// most; so they did with all stitches gathered, and within 0.7 and 5.7 % with as few gathered as run.
const (
	sampleLength   = 32 << 10
	gatheredLength = 128 << 10
	pieceLength    = 64
)

// sample is what stands for a design where only ratios of times are asked, few of it to run and more to gather, and the
// job for them: one piece, drawn at random with a fixed seed, out of each stretch of as many (stratified sampling). A design of
// less than two samples stands for itself. Pieces begin and end between two stitches of one run, so that trims, moves and stops
// stay whole; put together they have as many starts and stops as they had.
func sample(d *stitch.Design, job Job) (few, more *stitch.Design, of Job) {
	if len(d.Records) < 2*sampleLength {
		return d, d, job
	}
	rest := d.Records
	for made := job.From; made > 0 && len(rest) > 0; rest = rest[1:] {
		if rest[0].Op.Penetrates() {
			made--
		}
	}
	job.From = 0
	ends := make([]int, 0, len(rest)/pieceLength+1) // of the pieces
	for i := pieceLength; i < len(rest); i++ {
		if rest[i-1].Op == stitch.Sew && rest[i].Op == stitch.Sew {
			ends = append(ends, i)
			i += pieceLength - 1
		}
	}
	ends = append(ends, len(rest))
	draw := func(length int) *stitch.Design {
		strata := length / pieceLength
		if len(rest) < 2*length || len(ends) < 2*strata {
			return &stitch.Design{Records: rest}
		}
		rng := rand.New(rand.NewPCG(1, 2))
		part := make([]stitch.Record, 0, length+length/8)
		for i := range strata {
			from, to := i*len(ends)/strata, (i+1)*len(ends)/strata
			k := from + rng.IntN(to-from)
			begin := 0
			if k > 0 {
				begin = ends[k-1]
			}
			part = append(part, rest[begin:ends[k]]...)
		}
		return &stitch.Design{Records: part}
	}
	return draw(sampleLength), draw(gatheredLength), job
}
