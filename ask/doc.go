// Package ask answers the questions that a shop has: one file a question, one
// exported function each. A question is a struct with the one set of defaults
// and the one validation; its answer has the figures, the sentences, the
// caveats and the tables. Command line, page, API and papers lay the same
// answer out and reckon nothing. It imports only the pure domain; each question
// names the small reader that it needs.
package ask
