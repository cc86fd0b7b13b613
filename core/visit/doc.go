// Package visit answers what the visit before an anaesthetic asks: whether a
// patient has fasted long enough and from when on, what bedside tests of the
// airway, scores of risk and usual limits say, and what is asked in the pauses
// of surgical safety. It also says where a record holds each item that
// published standards ask a record to hold.
//
// It is for a provider who looks at one patient and knows these rules. It does
// not clear a patient for anaesthesia, it gives no doses, and it turns nobody
// away: an answer is an estimate with its source, its assumptions and its
// cautions, and the patient, the urgency and what the clinic does come first.
// It does not know what was entered, when or by whom: values in, values out,
// and a time is so many hours before now, or minutes from now.
//
// # Shape of an answer
//
// Sources, marks, cautions and errors are those of package patient, so that
// one screen can show them all. A fact that is missing or cannot be true gives
// a *patient.Error, which names the field. What was not asked is not a no: a
// time that nobody knows is never long enough, and a risk with a question open
// is a range.
//
// # Rule data
//
// Fasting sets, pauses and the coverage of record standards are TOML files
// beside their readers. A set of intervals that no source stands behind says
// so and asks to be confirmed: until somebody at the clinic has confirmed it,
// the longest published interval holds in its place.
//
// # Where the numbers come from
//
// Each stands beside its [patient.Source], in the TOML file or in the file of
// its rule, with the mark that tells what was read from what is common
// practice or from memory.
package visit
