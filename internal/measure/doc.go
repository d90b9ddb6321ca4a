// Package measure takes strides from package gait and gives measures: one
// value a name and side, each with its unit, its standard uncertainty from
// all sources, and its 95 % interval, or a refusal that says why not.
package measure
