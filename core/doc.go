// Package core is the companion: one way in, and a view for each part of the
// job.
//
// Whatever happens at the head of the table comes in through
// [Companion.Record]: it is checked, given its place in the log and synced to
// disk before anything is shown as done. What a screen shows comes out of a
// view: [Companion.Today], [Companion.Table], [Companion.Visit],
// [Companion.Waking], [Companion.Log] and the drawn record of [Companion.Sheet].
// A view is worked out from the folded case each time it is asked for; it can
// be thrown away, and nothing in it was ever only there.
//
// What can be worked out without a case, for a script or a page, is in
// [Reckonings]: each calculation with its inputs, and an answer with its working
// and its sources.
//
// The package knows no screen and no file format. It asks the clock that it
// was given, and no other.
package core
