// Package picture draws: the strip (where every second of a run goes), the
// design with every stitch coloured by held speed, the shaft-speed trace, heat
// and marked pictures, and small charts. Command line, page and papers share it.
//
// A picture is a plain struct of numbers with a size, a title and a Draw
// method; it knows no machine and no clock. It draws on a Canvas, and a Canvas
// is SVG text, a PNG image or whatever a paper needs. Colours are roles (Tone)
// that a Theme turns into colours, so one picture serves light, dark and print.
// No meaning hangs on colour alone: parts have hatching, order and labels,
// speeds have a legend. The same input gives the same bytes.
//
// Lengths on a canvas are px of 1/96 inch, x to the right and y down.
package picture
