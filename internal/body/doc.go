// Package body takes joint positions in metres and the stated height from
// packages gait and measure, gives segment tables, body proportions and the
// whole-body centre of mass to them. Pure: no files, clock or randomness.
package body
