// Package timeline is the story of what happened: events, their corrections,
// and the case that they fold into.
//
// An event is appended and never changed. A correction, a strike-out, a late
// entry, an entry that turns out to belong to another patient: each is a new
// event that names the root entry and the versions its author had seen. The
// exact bytes of every event are kept and chained by SHA-256, log by log, so
// that damage and gaps show. Names and free text lie in a private part beside
// the event, tied to it by a salted commitment, so that they can be left out
// of a file, or destroyed when the law asks for it, and the chain still
// verifies.
//
// [Fold] makes a [Story] of any heap of lines. It is pure and total: the same
// lines give the same story whatever order they come in, two devices merge by
// union, and a line that cannot be placed is shown, never dropped. A case is
// one view of the story.
//
// What a line says is a typed, versioned payload, one kind a file: see
// [Kinds]. The bounds that Check applies catch a slipped finger or a wrong
// unit; they are from memory, wide, and no statement about health.
//
// The package knows no storage, no clock and no words.
package timeline
