package ui

// The floor: the oldest web views that the screens are made for. A phone's
// shell compares its web view with it when it starts, and says in plain words
// when the phone's is older. TestFloor holds styles, script and pages to it.
//
// An old phone is no old web view. Android's is a package of its own, updated
// for years after the system is not: 26 is the lowest API level that the app
// installs on, and its web view went on to Chromium 138 (from memory). What a
// phone has that was never updated is Chromium 58 or so (from memory), which
// lacks half of what the layout needs; such a phone must be updated once,
// before it is relied on. On iOS the web view comes with the system, and every
// device that runs 13 runs 15.4 as well (from memory), so that a lower floor
// there would win no phone.
//
// The numbers are the lowest at which the screens look as they were drawn, by
// MDN's browser-compat-data 8.1.9: text-decoration-thickness wants Chromium
// 89, overflow-wrap: anywhere and :focus-visible want iOS 15.4.
const (
	FloorChromium = 89     // major version, of March 2021
	FloorIOS      = "15.4" // of March 2022
)

// FloorECMAScript is the edition of the language that every web view at the
// floor knows the whole of: static blocks, of the next, came with Chromium 94
// and iOS 16.4.
const FloorECMAScript = 2021
