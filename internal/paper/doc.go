// Package paper takes a form card from package card, and gives it as one
// self-contained HTML page or as a PDF of exactly one sheet. Both show the
// same words and the same drawings of package chart.
package paper
