// Package chart takes a form card from package card, and gives drawings of
// it to packages paper and web: the plumb-line chart of all measures, and
// the lines that go over a still of the clip. A drawing is a plain list of
// lines, paths, circles and texts laid out once; it can be written as SVG
// or painted by anything that implements Painter.
package chart
