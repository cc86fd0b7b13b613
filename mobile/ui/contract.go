// Package ui is the screens: one handler, templates, styles and a small
// script.
//
// There is one contract of two calls, the same on a desk and on a phone. Get
// answers a page or an asset, by its path. Send takes what one control stands
// for and answers what was committed, and which parts of the page changed.
// There are no redirects, no cookies, and no state in the script: a page that
// is thrown away and asked for again is the same page.
//
// Every control carries the id of the event that it would write, minted when
// it was drawn. A retry repeats it, and is one event; a second deliberate tap
// comes from a control drawn anew, and is two.
//
// A tray is a page of its own, and may be laid over the page that it belongs
// to instead (?layer): then an answer brings that page up to date, and closes
// the tray, without a page being opened. A page also asks now and then what
// changed with the time alone (?fresh=PAGE&base=N): the answer is an Answer.
//
// The package makes no sentence and works nothing out: words come from the
// catalogue, values from the views of package core.
package ui

import (
	"bytes"
	"encoding/json"
)

// Page answers a Get.
type Page struct {
	Status int    // 200, or 404, 500 or 503 with a page that says why
	Type   string // media type
	Body   []byte
	Name   string // of a file to take away; empty: shown as a page
}

// Send is one tap.
type Send struct {
	Path   string              `json:"path"`   // of the page on which the control stands
	Fields map[string][]string `json:"fields"` // what the control and its tray hold
	Event  string              `json:"event"`  // id minted when the control was drawn
	Base   int64               `json:"base"`   // number of the drawing that the page shows
	Page   string              `json:"page"`   // id of the page as it was opened
	Under  string              `json:"under"`  // path of the page that a tray was laid over; empty: none
	Case   string              `json:"case"`   // case that the control was drawn for; empty: of no case
}

// Answer says what became of a tap.
type Answer struct {
	Seq     int64    `json:"seq"`               // lines stored now
	Base    int64    `json:"base"`              // number of the drawing that the patches lead to
	From    int64    `json:"from,omitempty"`    // drawing that they lead from; 0: any, since every part is among them
	Patches []Patch  `json:"patches,omitempty"` // parts of the page that changed
	Go      string   `json:"go,omitempty"`      // page to open instead
	Close   bool     `json:"close,omitempty"`   // the tray has done its work
	Owed    int      `json:"owed,omitempty"`    // reasons owed
	Event   string   `json:"event,omitempty"`   // id for the control's next tap
	Problem *Problem `json:"problem,omitempty"` // nothing was recorded; the entry stays on the screen
}

// JSON writes the answer as it crosses to the script. Its HTML is not escaped
// once more: it is no part of a page before the script has read it.
func (a Answer) JSON() []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(a); err != nil {
		panic("ui: an answer of strings and numbers cannot be written: " + err.Error())
	}
	return b.Bytes()
}

// Patch is a part of a page: the element with this id is replaced.
type Patch struct {
	ID   string `json:"id"`
	HTML string `json:"html"`
}

// Problem is what could not be done, in plain words.
type Problem struct {
	Status int    `json:"status"` // as of HTTP: 4xx names the field
	Code   string `json:"code"`
	Field  string `json:"field,omitempty"`
	Words  string `json:"words"`
}
