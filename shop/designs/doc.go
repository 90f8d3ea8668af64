// Package designs keeps the shop's designs: it takes in stitch files, and knows what people
// say about them. A design is known by its content: the same bytes are the same
// design whatever the file is called.
package designs
