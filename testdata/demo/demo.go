// Package demo holds three invented anaesthetics, told in full, for tests and
// for showing the companion: a hernia under ether by mask and open drop, a
// child's abscess under ketamine, and a caesarean section under spinal with a
// birth.
//
// Nobody in them lives and the clinic exists nowhere; names are made up of
// syllables. The course of each is believable, and doses are ordinary ones
// whose source stands beside them in the generator, package make; neither is
// advice on how to give an anaesthetic.
//
// There is one file a log: the phone at the table, the phone of the assistant,
// and the log that the phone at the table opened after its database had been
// restored. Together they hold what happens in real life as well: corrections,
// two of them made without sight of each other, late entries, marks that were
// named later, a clock that was set, an entry tapped for the wrong patient.
//
// The files are made by
//
//	go run ./testdata/demo/make
//
// Every run draws new salts for the private parts, so that all hashes change.
package demo

import (
	"embed"
	"io/fs"
	"strings"
)

//go:embed *.jsonl
var files embed.FS

// Ids that tests and demonstrations ask for.
const (
	Hernia    = "019c4664-0000-7000-8000-00000000ca01" // an adult under ether
	Abscess   = "019c4664-0000-7000-8000-00000000ca02" // a child under ketamine
	Caesarean = "019c4664-0000-7000-8000-00000000ca03" // a mother under spinal
	Provider  = "019c4664-0000-7000-8000-0000000a0701" // who gives the anaesthetics
	Assistant = "019c4664-0000-7000-8000-0000000a0702"
	Newborn   = "019c4664-0000-7000-8000-0000000a0723"
)

// Files gives the files by name, each the lines of one log in the order of its
// numbers.
func Files() map[string][]byte {
	all := map[string][]byte{}
	entries, err := fs.ReadDir(files, ".")
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".jsonl") {
			continue
		}
		if all[e.Name()], err = files.ReadFile(e.Name()); err != nil {
			break
		}
	}
	if err != nil {
		panic("demo: " + err.Error()) // the files are part of the program
	}
	return all
}
