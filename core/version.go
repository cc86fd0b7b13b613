package core

// version is stamped by the linker where a release is built:
// -X chinlift/core.version=…
var version string

// Version names the release that this is; empty: built by hand.
func Version() string { return version }
