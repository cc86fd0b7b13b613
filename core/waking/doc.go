// Package waking answers what is asked while a patient wakes and afterwards:
// what the recovery score and the early warning score come to, how bad pain
// and nausea are, what a motor block means, when the next look is due, which
// criteria for leaving are still open, and what to ask the day after.
//
// It is for whoever watches. It discharges nobody: a score that is high enough
// says that one rule is met, and the person who watches and the local protocol
// decide. It gives no treatment. It does not know what was entered, when or by
// whom: values in, values out, and a time is so many minutes since or until.
//
// # Shape of an answer
//
// Sources, marks, cautions and errors are those of package patient. A score
// whose items are not all there is an error that names the item, never a sum
// of those that are. A criterion that was not looked at is open, not met.
//
// # Percent, not millimetres
//
// The recovery score judges circulation in percent of the pressure before the
// anaesthetic. Several copies print mmHg in its place, and one prints the
// columns the other way round. Percent is reckoned here, and the answer says
// where the other reading would have given other points.
//
// # Where the numbers come from
//
// Each stands beside its [patient.Source] in the file of its rule, or in the
// TOML file of its list, with the mark that tells what was read from what is
// common practice or from memory.
package waking
