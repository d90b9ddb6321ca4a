// Package standin takes the numbers of an invented runner and a camera and
// gives exact truth, a pose track and a rendered clip to the demo, the tests
// and the benchmarks.
//
// The runner is a rigid-segment figure in three dimensions whose motion is
// built from the ground up:
//
//   - the whole-body centre of mass flies on a parabola and is carried in
//     stance by a smooth ground force (a sine, as in the spring–mass model of
//     Morin et al. 2005, J Appl Biomech 21:167–180), so that contact time,
//     flight time and bounce agree;
//   - the sole is fixed on the belt from contact to toe-off and rolls over
//     the heel, the ball and the toe tip without slipping;
//   - knee and ankle follow from hip and sole by inverse kinematics, and the
//     swing is a twice differentiable spline between the two.
//
// Axes: X forward (the way the runner faces), Y up, Z to the runner's right,
// metres; the origin lies on the belt under the mean centre of mass. Angles
// are degrees where a name ends in Deg and radians elsewhere. Nothing here
// reads a clock or global randomness: the same runner, camera and generator
// give the same numbers.
//
// Every figure made here is invented; none is a likeness of a person.
package standin
