// Package form holds the words that every stage shares: sides, body points,
// pose frames, events, measures with their uncertainty, refusals, and the
// errors a coach can act on. It takes nothing from any other package.
package form
