// Package act is a shop with all its things, and what needs more than one of
// them: what asks a question (package ask) and then changes something, such as
// a quote that is kept, a plan, pieces recorded, a learned sheet. New builds it
// from a store; the page, the API and the commands use nothing else.
package act
