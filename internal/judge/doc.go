// Package judge takes the measures of one check, their refusals and the
// runner's speed and height from package measure, gives the reference bands,
// the state of the six areas, the one area to work on first and the cautions
// to package card. Pure: no files, clock or randomness.
//
// Read it in this order: row.go and rows.go (what each measure is compared
// with), band.go (the bands at a speed and height), model.go (the score),
// verdict.go (the decision and its words), caution.go.
package judge
