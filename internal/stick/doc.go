// Package stick takes the joint angles of a pose from a drill's data, and
// gives the lines of a small figure seen from the side to the drawings: a
// lay figure of average proportions that faces right, stands, hops or lies
// on the ground, and may lean on a wall or stand on a box.
package stick
