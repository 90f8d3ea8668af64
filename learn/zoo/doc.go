// Package zoo has synthetic machines that are not the model, and judges
// learning by them.
//
// A family is a way in which a controller departs from the model of package
// clock; Families lists them with their ranges. A Machine is drawn from one and
// runs a design revolution by revolution. It shares no code with package clock:
// the family "model" agrees with it because both follow docs/model.md, and a
// test holds them to that.
//
// Study draws machines, times a test piece and two designs as a person does,
// learns from the rows and predicts designs that it has not seen. What stands
// in the families of kind Other and NoTerm is there to judge with: no term, prior or
// threshold of package learn may be tuned on them.
package zoo
