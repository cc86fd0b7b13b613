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
// The package makes no sentence and works nothing out: words come from the
// catalogue, values from the views of package core.
package ui

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
	Base   int64               `json:"base"`   // lines stored when the page was drawn
}

// Answer says what became of a tap.
type Answer struct {
	Seq     int64    `json:"seq"`               // lines stored now
	Patches []Patch  `json:"patches,omitempty"` // parts of the page that changed
	Go      string   `json:"go,omitempty"`      // page to open instead
	Owed    int      `json:"owed,omitempty"`    // reasons owed
	Event   string   `json:"event,omitempty"`   // id for the control's next tap
	Problem *Problem `json:"problem,omitempty"` // nothing was recorded; the entry stays on the screen
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
